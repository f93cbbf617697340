"""What a form needs, imported and used once: run by a kernel in reserve, before anybody waits for it.

After a restart the same kernel does it again, and JupyterLab listens then: the form that nobody sees opens no comm.
"""

from __future__ import annotations

from unittest import mock

import comm
import ipywidgets

from shoplib.desk.widgets import job_list, job_progress, tightening_guide
from shoplib.desk.widgets.form import Form

USED_LATER = (job_list, job_progress, tightening_guide)
with mock.patch.object(comm, "create_comm", comm.DummyComm):
    warmed = Form(
        "preload_from_torque", keeping=False, torque="40 N*m", thread="M10x1.5", mu_thread="0.12", mu_head="0.12"
    )
    warmed.is_folded()  # nobody sees its cautions, so the first form of the page shows its own
    ipywidgets.Widget.close_all()
