"""``python -m shoplib.cli``."""

from shoplib.cli import main

raise SystemExit(main())
