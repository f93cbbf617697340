"""What a form needs, imported and used once: run by a kernel in reserve, before anybody waits for it."""

from __future__ import annotations

import ipywidgets

from shoplib.desk.widgets import job_list, job_progress, tightening_guide
from shoplib.desk.widgets.form import Form

USED_LATER = (job_list, job_progress, tightening_guide)
warmed = Form("preload_from_torque", keeping=False, torque="40 N*m", thread="M10x1.5", mu_thread="0.12", mu_head="0.12")
warmed.is_folded()  # nobody sees its cautions, so the first form of the page shows its own
ipywidgets.Widget.close_all()
