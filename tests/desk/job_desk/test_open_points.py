"""Which job is on the desk, and what is open in it."""

import ipywidgets

from shoplib.desk.widgets.job_desk import JobDesk
from shoplib.desk.widgets.point_decision import Decide
from shoplib.desk.widgets.session import session
from shoplib.record.open_points import open_points
from shoplib.record.store import Store
from shoplib.topics import get
from tests.desk.job_desk.helpers import WHO, page, place_of, plain, walk
from tests.record_fixtures import HEADER, NOTES, NUMBER, protrusion


# ------------------------------------------------------------------------------ which job
def test_without_a_job_it_offers_those_there_are(printer):
    session.store().start(**HEADER)
    desk = JobDesk(printer)
    assert "No job is selected" in plain(desk)
    assert desk.shown.children == (desk.pages["files"],)
    assert [name for name, tab in desk.tabs.items() if not tab.disabled] == ["files"]
    assert [value for _, value in desk.choose.options] == ["", NUMBER]
    desk.choose.value = NUMBER
    assert session.number == NUMBER
    assert "Job 26-014" in plain(desk)
    assert not any(tab.disabled for tab in desk.tabs.values())


def test_a_job_chosen_in_a_form_of_the_same_kernel_appears(desk, store):
    store.start(**HEADER | {"number": "26-015", "engine": "another"})
    session.number = "26-015"
    assert desk.job.number == "26-015"
    assert desk.choose.value == "26-015"
    session.number = ""
    assert desk.job is None


def test_what_other_kernels_wrote_is_read_and_told(desk, store):
    with Store.open(store.place) as other:
        other.keep(NUMBER, protrusion("0,12 mm"), who="B. Teacher", title="From the other bay")
    assert "From the other bay" not in plain(desk)
    desk.again.click()
    assert "1 new line since the last refresh: line 2 (From the other bay) by B. Teacher" in plain(desk)
    assert desk.tabs["open"].description == "Still open (2)"
    store.keep(NUMBER, protrusion(), **WHO)
    session.written += 1  # a form of this kernel kept something
    assert desk.tabs["history"].description == "History and corrections (2)"


# ------------------------------------------------------------------------------ what is open
def test_open_points_come_first_worst_first_and_unfold_in_place(desk, store):
    store.keep(NUMBER, get("measurement")(what="Recess", where="1", value="0.7 mm"), title="Recess", **WHO)
    store.keep(NUMBER, protrusion("0,12 mm"), title="Protrusion", **WHO)
    store.keep(NUMBER, protrusion(), title="Fine", **WHO)
    desk.look()
    assert desk.shown.children == (desk.pages["open"],)
    text = plain(desk.pages["open"])
    words = ["✕ fail", "○ no limit given", "□ blank the root cause is not recorded"]
    assert [text.index(w) for w in words] == sorted(text.index(w) for w in words)
    assert "Fine" not in text
    place = place_of(desk, "open", "Protrusion")
    assert f"0,12 mm, must be at most 0.10 mm [{NOTES}]" in plain(place.panel)
    assert "High limit" in plain(place.panel) or "Source" in plain(place.panel)
    place.button.click()
    assert place.panel is None
    last = desk.pages["open"].children[-1]
    next(w for w in walk(last) if isinstance(w, ipywidgets.Button)).click()
    assert desk.shown.children == (desk.pages["hand"],)


def test_a_point_is_accepted_by_name_and_with_its_reason(desk, store):
    store.keep(NUMBER, protrusion("0,12 mm"), title="Protrusion", **WHO)
    desk.look()
    page_ = desk.pages["open"]
    (decide,) = (w for w in page_.children if isinstance(w, Decide))
    decide.fold.click()
    decide.go.click()
    assert "Correct the marked boxes" in plain(decide)
    assert len(store.job(NUMBER).lines) == 2
    decide.boxes["by"].box.value = "B. Instructor"
    decide.boxes["because"].box.value = "the customer agreed"
    assert decide.boxes["allowed"].layout.display == "none", "a range goes with a bolt that was ticked"
    decide.go.click()
    assert store.job(NUMBER).lines[-1].kind == "decision"
    text = plain(desk.pages["open"])
    assert "accepted by B. Instructor, line 3, entered by A. Learner: the customer agreed" in text
    assert "✕ fail" not in text
    assert "Accepted by B. Instructor: line 2 (Protrusion)" in plain(page(desk, "history"))


def test_a_deviation_is_resolved_by_what_a_source_allows(desk, store):
    plan = store.keep(NUMBER, get("tightening_plan")(
        positions=[{"name": "1", "x": "0 mm", "y": "0 mm"}, {"name": "2", "x": "90 mm", "y": "0 mm"}],
        stages="+85–95 deg", stages_source=NOTES, order="1; 2", lubricant="oil", lubricant_where="threads"), **WHO)  # fmt: skip
    store.tick(NUMBER, programme=plan.uid, stage=1, bolt="1", value="104 deg", initials="AL", uid="tick-number-1",
               deviation="over", reason="slipped", action="stopped")  # fmt: skip
    desk.look()
    decide = next(w for w in desk.pages["open"].children if isinstance(w, Decide) and "104" in str(w.point.options))
    decide.decision.value = "resolved"
    for name, text in (("by", "B. Instructor"), ("because", "looked up"), ("allowed", "+85–110 deg")):
        decide.boxes[name].box.value = text
    decide.go.click()
    assert "must be given with allowed" in plain(decide)
    decide.boxes["allowed_source"].box.value = NOTES
    decide.go.click()
    assert "deviation" not in [p.status for p in open_points(store.job(NUMBER))]


def test_nothing_open_is_said(desk, store):
    store.amend(NUMBER, people=[{"name": "A. Learner"}], **WHO)
    store.close_job(NUMBER, root_cause="pump bearing", **WHO)
    store.sign(NUMBER, role="did the work", **WHO)
    desk.look()
    assert "Nothing is open" in plain(desk.pages["open"])
