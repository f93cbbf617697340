"""JupyterHub for a class or a centre, on one machine, with one command:

    pip install "shoplib[hub,postgres]"; npm install -g configurable-http-proxy
    SHOPLIB_STORE=postgresql://shoplib_writer@db.example/shoplib jupyterhub -f binder/hub/jupyterhub_config.py

Everything is chosen by the environment; README.md beside this file explains each variable.
"""

import os
import sys
from pathlib import Path

from shoplib.classroom.borders import GROUPS, password_of
from shoplib.desk import STATIC
from shoplib.desk.server.launcher import copy_notebooks

c = get_config()  # noqa: F821 -- JupyterHub gives it


def of(name, default=""):
    """A variable of the environment, without spaces at its ends."""
    return os.environ.get(f"SHOPLIB_HUB_{name}", "").strip() or default


def names(text):
    """A list of logins separated by commas."""
    return {n.strip().lower() for n in text.split(",") if n.strip()}


folder = Path(of("FOLDER", "hub")).absolute()
folder.mkdir(mode=0o700, parents=True, exist_ok=True)
store = os.environ.get("SHOPLIB_STORE", "")
secret = os.environ.get("SHOPLIB_ROLE_SECRET", "")
admins, instructors = names(of("ADMINS")), names(of("INSTRUCTORS"))

# -- the hub itself
c.JupyterHub.bind_url = of("URL", "http://127.0.0.1:8000")
if of("TLS_KEY"):
    c.JupyterHub.ssl_key, c.JupyterHub.ssl_cert = of("TLS_KEY"), of("TLS_CERT")
c.JupyterHub.hub_bind_url = of("INNER_URL", "http://127.0.0.1:8081")
c.JupyterHub.db_url = of("DB", f"sqlite:///{folder / 'hub.sqlite'}")
c.JupyterHub.upgrade_db = True  # its own tables are upgraded with it; a copy of an SQLite file is kept
c.JupyterHub.cookie_secret_file = str(folder / "cookie_secret")
c.ConfigurableHTTPProxy.pid_file = str(folder / "proxy.pid")
c.ConfigurableHTTPProxy.command = of("PROXY", "configurable-http-proxy").split()
c.ConfigurableHTTPProxy.api_url = of("PROXY_API", "http://127.0.0.1:8001")
c.JupyterHub.active_server_limit = int(of("MOST", "40"))  # more are told to try again; 0: no limit
c.JupyterHub.concurrent_spawn_limit = int(of("AT_ONCE", "4"))
c.JupyterHub.cleanup_servers = of("CLEANUP", "yes") == "yes"

# -- who comes in
kind = of("AUTHENTICATOR", "shared-password")
c.JupyterHub.authenticator_class = kind
c.Authenticator.admin_users = admins
if of("USERS"):
    c.Authenticator.allowed_users = names(of("USERS")) | admins | instructors
else:
    c.Authenticator.allow_all = True
if kind == "shared-password":  # for a trial: everybody has the same password
    c.SharedPasswordAuthenticator.user_password = of("PASSWORD")
    if not of("PASSWORD"):
        raise SystemExit("set SHOPLIB_HUB_PASSWORD for the trial, or SHOPLIB_HUB_AUTHENTICATOR to a real authenticator")

# -- what each person gets
kind = of("SPAWNER", "simple")
c.JupyterHub.spawner_class = kind
if kind == "simple":  # local processes of the hub's own user: for a trial, they are not kept apart
    c.SimpleLocalProcessSpawner.home_dir_template = str(folder / "homes" / "{username}")
    c.Spawner.cmd = [str(Path(sys.executable).with_name("jupyterhub-singleuser"))]
c.Spawner.default_url = "/lab/tree/notebooks/00-contents.ipynb"
c.Spawner.mem_limit = of("MEMORY", "1G")  # only a spawner of containers or systemd units enforces it
c.Spawner.start_timeout = c.Spawner.http_timeout = int(of("PATIENCE", "120"))
c.Spawner.poll_interval = int(of("POLL", "10"))
c.Spawner.args = [
    "--ServerApp.kernel_websocket_connection_class=shoplib.desk.server.nodelay_socket.NoDelaySocket",
    "--MultiKernelManager.kernel_manager_class=shoplib.desk.server.kernel_ports.KernelWithOwnPorts",
    f"--MappingKernelManager.cull_idle_timeout={of('KERNEL_IDLE', '3600')}",
    *(["--allow-root"] if kind == "simple" and os.geteuid() == 0 else []),
]


def prepare(spawner):
    """A copy of the notebooks where there is none, and the person's own way into the record."""
    login = spawner.user.name
    known = spawner.environment.get("JUPYTER_PATH")  # what runs a notebook when it is opened
    spawner.environment |= {"JUPYTER_PATH": os.pathsep.join([str(STATIC / "jupyter"), *([known] if known else [])])}
    if kind == "simple":
        home = folder / "homes" / login
        home.mkdir(mode=0o700, parents=True, exist_ok=True)
        copy_notebooks(home / "notebooks")
    role = GROUPS["instructor" if login in instructors else "learner"] + f"_{login}"
    if secret and store.startswith("postgresql"):
        scheme, _, rest = store.partition("://")
        spawner.environment |= {"SHOPLIB_STORE": f"{scheme}://{role}@{rest.rpartition('@')[2]}"}
        spawner.environment |= {"PGPASSWORD": password_of(secret, role)}
    elif store:
        spawner.environment |= {"SHOPLIB_STORE": store}


c.Spawner.pre_spawn_hook = prepare

# -- who is idle, and other services
c.JupyterHub.load_roles = [
    {
        "name": "idle-culler",
        "services": ["idle-culler"],
        "scopes": ["list:users", "read:users:activity", "read:servers", "delete:servers"],
    }
]
c.JupyterHub.services = [
    {
        "name": "idle-culler",
        "command": [sys.executable, "-m", "jupyterhub_idle_culler", f"--timeout={of('IDLE', '3600')}"],
    }
]
if of("ADMIN_TOKEN"):  # a service that may start servers, for tests and scripts
    c.JupyterHub.services.append({"name": "admin", "api_token": of("ADMIN_TOKEN")})
    scopes = ["admin:users", "admin:servers", "tokens", "access:servers"]
    c.JupyterHub.load_roles.append({"name": "by-script", "services": ["admin"], "scopes": scopes})
