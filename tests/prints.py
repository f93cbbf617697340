"""One of every kind of print: of the invented jobs, of a class set, of the card and the disc."""

import functools

from shoplib.core.paths import DATA
from shoplib.record import exchange
from shoplib.record.job_record import whole_record
from shoplib.record.jobfile import read_job_file
from shoplib.record.jobfile_record import make_record
from shoplib.sheet import print_alone, typeset, work_order
from tests import whole_job

CARD = {"kind": "torque", "first": "20 N*m", "last": "120 N*m", "step": "5 N*m"}
DISC = {"diameter": "150 mm", "stages": "40 N*m; +90 deg; +90 deg", "start_mark": "bolt 1"}


@functools.cache
def demo_job():
    """The invented whole job and its pictures."""
    return exchange.load(whole_job.FILE.read_bytes())


@functools.cache
def of_job(paper, **more):
    job, pictures = demo_job()
    return typeset(whole_record(job, paper=paper, **more), pictures=pictures)


def of_file(paper, name="job"):
    path = DATA / "demo" / f"{name}.toml"
    return make_record(read_job_file(path), paper=paper, folder=path.parent)


def class_set(paper):
    from shoplib.sheet.class_set import learners_pdf
    from shoplib.teaching.exercise import class_set
    from shoplib.topics import exercises

    return learners_pdf(class_set("preload", exercises.of_topic("preload"), 2, 3), paper=paper)


def answer_key(paper):
    from shoplib.sheet.class_set import key_pdf
    from shoplib.teaching.exercise import class_set
    from shoplib.topics import exercises

    return key_pdf(class_set("preload", exercises.of_topic("preload"), 2, 3), paper=paper)


def concept_test(paper):
    from shoplib.sheet.class_set import concept_pdf
    from shoplib.topics.concept_items import FORMS

    return concept_pdf("A", FORMS["A"], paper=paper)


KINDS = {
    "job": of_job,
    "customer": lambda paper: of_job(paper, extent="customer"),
    "blank": lambda paper: of_job(paper, blank=True),
    "entry": lambda paper: typeset(of_file(paper)),
    "work order": lambda paper: work_order.typeset_order(of_file(paper, "work_order")),
    "conversion card": lambda paper: print_alone("conversion_card", CARD, paper=paper),
    "degree disc": lambda paper: print_alone("degree_disc", DISC, paper=paper),
    "class set": class_set,
    "answer key": answer_key,
    "concept test": concept_test,
}
PAPERS = ("a4", "letter")
