"""What CI takes of the widest tests, so that it ends within fifteen minutes.  ``SHOPLIB_SLOW=1`` takes all of them.

A test stands here when it takes seconds and what it leaves out is much like what it takes, or is asked by other tests.
A test that draws numbers asks ``ALL`` itself; one that tries many things in a loop takes ``a_part`` of them.
"""

from __future__ import annotations

import os

ALL = bool(os.environ.get("SHOPLIB_SLOW"))


def every(step: int, first: int = 0) -> slice:
    return slice(first, None, step)


def a_part(found, step):
    """Every so many of what a test tries in a loop, or all of them."""
    return list(found)[:: 1 if ALL else step]


BY_NAME = slice(0)
TAKES: dict[str, slice | tuple[str, ...]] = {  # the parameters by their place, or those that contain one of the words
    # pages and JupyterLab: all are made of the same parts
    "tests/browser/test_connection.py::test_a_lost_connection_is_said_and_nothing_can_be_pressed": ("pages",),
    "tests/browser/test_connection.py::test_enter_without_a_connection_ticks_no_bolt_later": BY_NAME,
    "tests/browser/test_grid.py::test_keys_paste_and_commas": BY_NAME,  # test_grid_cells.py, without a kernel
    "tests/browser/test_grid_cells.py::test_name_and_heading_stay_in_sight_and_nothing_else_scrolls": ("390",),
    "tests/browser/test_guide.py::test_in_the_middle_of_a_job": ("Pages",),
    "tests/browser/test_job.py::test_kept_found_again_printed_saved_and_read_back": BY_NAME,  # test_pages.py, test_lab.py
    "tests/browser/test_kills.py::test_a_tablet_that_slept_until_its_kernel_was_ended": BY_NAME,
    "tests/browser/test_kills.py::test_a_press_that_waits_says_so": BY_NAME,
    "tests/browser/test_kills.py::test_the_server_is_killed_at_random_moments": BY_NAME,  # test_connection.py
    "tests/browser/test_kills.py::test_the_kernel_is_killed_at_every_message_of_a_tick": BY_NAME,
    "tests/browser/test_kills.py::test_what_was_typed_for_a_bolt_that_is_ticked_is_not_put_to_the_next": BY_NAME,
    "tests/browser/test_kills.py::test_what_was_typed_is_offered_when_the_form_is_shown_again": BY_NAME,
    "tests/browser/test_lab.py::test_a_form_has_its_own_keys": BY_NAME,
    "tests/browser/test_lab.py::test_a_notebook_that_lost_a_widget_on_its_way_is_shown_whole": BY_NAME,
    "tests/browser/test_lab.py::test_every_notebook_runs_and_its_form_is_used": ("31-",),
    "tests/browser/test_lab.py::test_forms_in_jupyterlab_are_for_everybody_also_in_the_dark": BY_NAME,
    "tests/browser/test_lab.py::test_typing_a_torque_shows_another_preload": BY_NAME,
    "tests/browser/test_lab.py::test_what_was_kept_in_jupyterlab_is_on_the_sheet": BY_NAME,  # test_pages.py
    "tests/browser/test_lessons.py::test_a_saved_notebook_without_a_kernel_shows_no_answer": ("63-",),
    "tests/browser/test_lessons.py::test_each_step_is_one_screen_and_nothing_comes_early": BY_NAME,
    "tests/browser/test_pages.py::test_a_page_on_every_screen_and_for_everybody": ("13-",),
    "tests/browser/test_whole_job.py::test_a_whole_job_within_the_budget": BY_NAME,
    # forms, pictures, lessons
    "tests/desk/test_guided.py::test_beside_explain_the_picture_shows_what_the_question_is_about": every(3),
    "tests/desk/test_guided.py::test_the_widget_goes_through_every_step": every(2),
    "tests/desk/test_livefigure.py::test_a_hand_in_a_form_of_a_whole_engine_sees_what_a_full_render_would": every(6),
    "tests/desk/test_livefigure.py::test_any_other_change_renders_the_whole_figure": every(2),
    "tests/desk/test_livefigure.py::test_every_lesson_shows_what_a_full_render_would": every(5),
    "tests/desk/test_livefigure.py::test_every_working_shows_what_a_full_render_would": every(6),
    "tests/desk/test_livefigure.py::test_whatever_is_set_on_an_artist_is_drawn": ("text",),
    "tests/topics/test_exercises.py::test_answer_is_sound_and_the_same_for_the_same_seed": every(3),
    "tests/topics/test_exercises.py::test_class_set_has_distinct_numbers_from_one_seed": every(4),
    "tests/topics/test_exercises.py::test_every_mistake_is_wrong_gives_its_hint_and_looks_like_no_other": every(3),
    "tests/topics/test_exercises.py::test_right_answer_is_right_as_printed_and_in_other_units": every(3),
    "tests/topics/test_exercises.py::test_thirty_learners_and_neighbours_share_no_answer": every(4, 2),
    "tests/topics/test_lessons.py::test_every_corner_of_a_lesson_is_said_and_drawn": every(3),
    "tests/topics/test_lessons.py::test_what_moves_is_what_a_full_render_shows": every(3),
    "tests/topics/test_walk.py::test_the_examples_work_in_all_four": every(4),
    "tests/topics/test_workings_tightening.py::test_every_programme_has_a_picture": every(4),
    # servers
    "tests/audit/test_audit.py::test_a_cluster_loses_a_worker_and_its_scheduler_and_nothing_else": BY_NAME,
    "tests/audit/test_audit.py::test_chance_names_a_group_as_seldom_as_stated": BY_NAME,
    "tests/classroom/test_hub.py::test_two_learners_at_a_real_hub": BY_NAME,
    "tests/desk/test_servers.py::test_an_address_lasts_and_whoever_is_logged_in_stays_so": BY_NAME,
    "tests/desk/test_servers.py::test_no_route_answers_to_another_host_even_with_the_token": every(2),
    "tests/desk/test_servers.py::test_nothing_is_left_when_it_is_closed": ("SIGKILL-True",),  # and SIGHUP, in the next test
    # the record and its faults
    "tests/core/test_outcome_labels.py::test_german_labels_change_one_file": BY_NAME,
    "tests/faults/test_disk.py::test_nothing_is_lost_or_half_done": ("attach-on]", "import-once", "keep-on]"),
    "tests/faults/test_server.py::test_a_cut_connection_loses_nothing_and_leaves_nothing_half_done": ("attach", "keep"),
    "tests/record/test_archive.py::test_verify_says_that_the_rules_changed_and_shows_both_outcomes": ("whole_job",),
    "tests/record/test_evolution.py::test_a_later_version_reads_what_was_written_before": BY_NAME,
    "tests/record/test_header.py::test_a_new_field_is_seen_everywhere_and_the_archive_is_read": every(2),
    # sheets
    "tests/sheet/test_job_sheet.py::test_text_in_every_place_is_printed_as_typed": every(2),
    "tests/sheet/test_job_sheet.py::test_the_same_record_gives_the_same_bytes_on_both_papers": ("True-a4", "False-letter"),
    "tests/sheet/test_sheet_layout.py::test_twenty_six_bolts_and_forty_measurements_have_at_most_twelve": ("letter",),
    "tests/sheet/test_sheet_layout.py::test_a_grid_over_two_pages_repeats_its_head_and_splits_no_row": ("letter",),
    "tests/sheet/test_sheet_layout.py::test_nothing_is_stranded": ("letter",),
    "tests/sheet/test_sheet_layout.py::test_no_prompt_of_the_screen_is_on_paper": ("letter",),
    "tests/sheet/test_tamper.py::test_the_quick_way_finds_what_verify_finds": BY_NAME,
    "tests/sheet/test_verify.py::test_words_laid_over_a_genuine_sheet_of_0_1_0_never_make_it_verified": ("job_file",),
    "tests/sheet/test_sheet_of_every_working.py::test_the_forms_of_the_notebooks_verify_in_another_version": BY_NAME,
}  # fmt: skip


def taken(test: str, found: list[str]) -> list[str]:
    """Those of a test's node ids that CI takes."""
    rule = TAKES.get(test, slice(None))
    if isinstance(rule, slice):
        return found[rule]
    return [one for one in found if any(word in one.partition("[")[2] for word in rule)]


def pytest_collection_modifyitems(config, items):
    if ALL:
        return
    tests: dict[str, list[str]] = {}
    for item in items:
        tests.setdefault(item.nodeid.partition("[")[0], []).append(item.nodeid)
    kept = {one for test, found in tests.items() for one in taken(test, found)}
    left = [item for item in items if item.nodeid not in kept]
    items[:] = [item for item in items if item.nodeid in kept]
    config.hook.pytest_deselected(items=left)
