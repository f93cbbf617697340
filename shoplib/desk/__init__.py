"""Forms, grids and live figures for the notebooks.  This layer does no arithmetic."""

from __future__ import annotations

from pathlib import Path
from typing import Any

STATIC = Path(__file__).parent / "static"
TEMPLATES = Path(__file__).parent / "templates"

_FROM = {
    "Form": "form",
    "example": "form",
    "Fold": "fold",
    "FoldedText": "static_fallback",
    "Grid": "grid",
    "JobList": "job_list",
    "LiveFigure": "live_figure",
    "Practice": "practice",
    "Explore": "lesson_widget",
    "Guided": "guided_widget",
    "Faded": "faded_widget",
    "Review": "review_widget",
    "TryIt": "try_it",
    "ConceptTest": "concept_widget",
    "OrderPage": "order_page",
    "JobDesk": "job_desk",
    "Guide": "tightening_guide",
    "Glossary": "glossary",
    "GeneralCautions": "glossary",
    "JobProgress": "job_progress",
    "EngineCard": "engine_card",
    "MyClass": "my_class",
    "MyAssignments": "my_class",
    "ClassDesk": "class_desk",
}


def __getattr__(name: str) -> Any:  # a widget is imported only when a notebook uses it
    if name not in _FROM:
        raise AttributeError(name)
    from importlib import import_module

    return getattr(import_module(f"shoplib.desk.widgets.{_FROM[name]}"), name)
