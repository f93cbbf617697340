"""The fixed address of the bench: it leads to the page of the step that is next in today's job."""

from __future__ import annotations

import asyncio

from jupyter_server.base.handlers import JupyterHandler
from tornado.web import authenticated

from shoplib.desk.server.launcher import FIRST

PAGE = "voila/render/{}"


def next_notebook() -> str:
    """The notebook of the next step; the contents when no job is open, or the record cannot be read."""
    from shoplib.desk.widgets.session import session
    from shoplib.record.errors import StoreError
    from shoplib.record.job_progress import progress

    if not session.anything():
        return FIRST
    try:
        number = session.recall()["number"]
        step = progress(session.store().job(number)).next if number else None
    except StoreError:  # the contents page shows why
        return FIRST
    return step.step.notebook if step is not None else FIRST


class NextPage(JupyterHandler):
    """``/bench``."""

    @authenticated
    async def get(self) -> None:
        """Lead to the next step."""
        name = await asyncio.get_running_loop().run_in_executor(None, next_notebook)
        self.redirect(self.base_url + PAGE.format(name))
