"""What people, files and attackers send that should not be: each with what must come of it and the test that shows it, or the
sentence that says why it cannot arise here. A test named here that is not there fails."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]

# what → the tests that show it; a sentence in place of tests says why there is none
FAULTS: dict[str, tuple[str, ...] | str] = {
    # records
    "a published revision changed in place: the database refuses": (
        "tests/prescribing/test_revise_program.py::test_the_database_refuses_to_change_what_was_published",
        "tests/house/test_migrations.py::test_every_append_only_table_has_its_trigger",
    ),
    # input
    "names in other scripts, of one word, with an apostrophe, `Null`, with signs that turn the writing: kept and found": (
        "tests/people/test_contacts.py::test_names_are_kept_as_given_in_one_unicode_form",
        "tests/people/test_contacts.py::test_search_ignores_accents_and_case",
        "tests/prescribing/test_handout.py::test_names_with_accents_and_other_scripts",
    ),
    "names with control characters or without end: refused": (
        "tests/people/test_contacts.py::test_names_with_control_characters_or_without_end_are_refused",
        "tests/importing/test_run.py::test_every_faulty_cell_of_a_row_is_named_at_once",
    ),
    "NUL and control characters in path, query and body: 400": (
        "tests/people/test_clients.py::test_control_characters_in_an_address_are_refused",
        "tests/people/test_bad_requests.py::test_a_form_with_a_nul_is_refused_before_its_view",
        "tests/access/test_forms.py::test_a_form_takes_whatever_is_typed",
    ),
    "JSON nested without end, a number of a hundred thousand digits: 400": (
        "tests/people/test_bad_requests.py::test_a_body_too_deep_or_a_number_too_long_is_refused",
    ),
    "a body of many megabytes: refused unread": (
        "tests/people/test_bad_requests.py::test_a_body_too_big_is_refused_before_it_is_read",
    ),
    "ten thousand form fields: 400": ("tests/people/test_bad_requests.py::test_ten_thousand_fields_of_a_form_are_refused",),
    "a name twice in JSON: the last counts, checked like any": (
        "tests/people/test_bad_requests.py::test_of_a_name_told_twice_the_last_counts_as_the_format_has_it",
    ),
    "another type than described: 400, never 500": (
        "tests/people/test_bad_requests.py::test_json_of_another_kind_is_refused",
        "tests/access/test_api_described.py::test_every_answer_is_documented",
        "tests/portal/test_fuzz.py::test_no_body_breaks_a_write",
    ),
    "a refused form: what was typed is shown again": (
        "tests/access/test_forms.py::test_a_form_takes_whatever_is_typed",
        "tests/prescribing/test_prescriber_page.py::test_an_error_keeps_everything_typed_and_says_where",
    ),
    # files
    "a long sheet with bad rows: told by line, mended and brought in again; a second time changes nothing": (
        "tests/importing/test_many_rows.py::test_every_fault_is_told_by_its_line_and_the_mended_rows_come_in",
        "tests/importing/test_logs_together.py::test_a_dry_run_leaves_nothing_and_says_the_same",
        "tests/importing/test_run.py::test_twenty_thousand_rows_are_never_all_held",
    ),
    "byte order marks, CR LF, semicolons, Latin-1: understood and said": (
        "tests/importing/test_reading.py::test_encodings_and_delimiters",
        "tests/importing/test_reading.py::test_bytes_windows_does_not_know_are_latin_1",
    ),
    "a line break inside a cell, a quotation mark never closed: no other row is lost": (
        "tests/importing/test_reading.py::test_a_line_break_inside_quotes_keeps_the_line_numbers",
        "tests/importing/test_reading.py::test_a_quote_never_closed_loses_its_own_line_only",
        "tests/importing/test_reading.py::test_many_unclosed_quotes_stay_quick",
    ),
    "a file that unpacks to gigabytes: refused before it is unpacked": (
        "tests/importing/test_reading.py::test_a_bomb_is_refused_before_it_is_unpacked",
    ),
    "a file that is not what its name says, or two things at once": (
        "tests/importing/test_reading.py::test_what_is_not_what_it_says",
        "tests/importing/test_reading.py::test_a_package_that_is_no_workbook",
        "tests/importing/test_reading.py::test_declarations_in_its_xml_are_refused",
    ),
    "a damaged or foreign copy of a practice: nothing of it stays": (
        "tests/trust/test_moving.py::test_a_damaged_or_foreign_copy_leaves_nothing_behind",
    ),
    "archives with `../` in a name, links, archives inside archives": (
        "Nothing is ever unpacked to disk: workbooks and copies are read part by part from the package, and a part that is "
        "an archive itself is bytes that nobody opens."
    ),
    "what a camera writes into a picture": "Nobody can upload a picture: drawings are made here, and no route takes a file.",
    "cells that a spreadsheet would run: text on the way out, themselves on the way in; negative numbers stay numbers": (
        "tests/importing/test_report.py::test_text_that_would_run_gets_an_apostrophe_and_loses_it_again",
        "tests/importing/test_many_rows.py::test_what_a_spreadsheet_would_run_is_defused_in_the_file_of_refused_rows",
        "tests/dashboards/test_pages.py::test_a_file_runs_nothing",
    ),
    "markup and script in a name, a cue, a note, a chart, a mail, paper: inert": (
        "tests/dashboards/test_pages.py::test_a_name_cannot_end_the_data",
        "tests/dashboards/test_timeline.py::test_what_people_wrote_cannot_end_the_data",
        "tests/prescribing/test_prescriber_page.py::test_a_stored_text_is_shown_as_text",
        "tests/prescribing/test_handout.py::test_typed_text_stays_text",
        "tests/reminders/test_wording.py::test_a_value_is_never_read_as_a_template",
        "tests/booking/test_feeds.py::test_the_lines_are_as_the_standard_wants_them",
    ),
    # running: `tests/faults/` does these to real processes
    "a line break in a name: no header of a mail, no property of a calendar": (
        "tests/reminders/test_smtp.py::test_a_letter_arrives_with_its_reference_and_its_accents",
        "tests/booking/test_feeds.py::test_the_lines_are_as_the_standard_wants_them",
    ),
    "killed before, during and after the mail server's answer: once, or counted as sent again, or visibly in doubt": (
        "tests/faults/test_full_stack.py::test_a_worker_child_is_killed_while_the_mail_server_has_the_letter",
        "tests/faults/test_full_stack.py::test_the_worker_is_killed_before_the_mail_server_has_the_letter",
        "tests/faults/test_full_stack.py::test_a_mail_server_takes_the_letter_and_never_says_so",
        "tests/faults/test_one_process.py::test_the_one_process_is_killed_in_a_delivery_and_starts_again_with_nothing_lost",
        "tests/reminders/test_killed_worker.py::test_a_worker_killed_in_a_delivery_loses_nothing_and_doubles_nothing",
    ),
    "beat or web killed": (
        "tests/faults/test_full_stack.py::test_beat_is_killed_and_rings_still_deliver_while_health_says_so_in_time",
        "tests/faults/test_full_stack.py::test_the_web_is_killed_in_mid_request_and_the_same_request_again_books_once",
    ),
    "Redis emptied, gone, silent, full: bookings and logs go on, the page of health says which": (
        "tests/faults/test_full_stack.py::test_redis_fails_and_people_go_on",
        "tests/project/test_steady_cache.py::test_a_redis_that_says_nothing_is_waited_for_once",
        "tests/reminders/test_bell.py::test_a_dead_broker_is_logged_and_does_not_hold_up_the_request",
    ),
    "two beats and two workers": (
        "tests/faults/test_full_stack.py::test_two_beats_and_two_workers_send_each_message_once",
    ),
    "a worker that lives and hears nothing: an alarm in five minutes at most": (
        "tests/faults/test_full_stack.py::test_a_worker_that_is_alive_but_deaf_raises_the_alarm",
    ),
    "a mail server that says not now, no, or is not there": (
        "tests/faults/test_full_stack.py::test_a_mail_server_says_not_now_and_no",
        "tests/faults/test_full_stack.py::test_the_mail_server_goes_away_and_comes_back",
        "tests/reminders/test_smtp.py::test_a_refusal_is_passing_or_for_good_by_its_code",
        "tests/reminders/test_smtp.py::test_a_server_without_tls_is_not_used_when_tls_is_asked_for",
        "tests/reminders/test_deliver.py::test_a_mail_server_that_cannot_be_used_burns_no_attempts",
    ),
    "a gateway that lies: fine with an error in it, nonsense, the same report thrice, a report too early, a forged one": (
        "tests/faults/test_full_stack.py::test_a_gateway_lies",
        "tests/faults/test_full_stack.py::test_a_report_comes_before_the_answer_and_before_the_record",
    ),
    "consent, address, visit or person changed between queueing and sending: asked again under lock": (
        "tests/reminders/test_deliver.py::test_consent_withdrawn_after_queueing_is_seen_at_sending",
        "tests/reminders/test_deliver.py::test_a_client_changed_after_queueing_is_seen_at_sending",
        "tests/reminders/test_deliver.py::test_a_changed_address_is_the_one_that_is_used",
        "tests/reminders/test_deliver.py::test_a_message_that_is_no_longer_wanted_says_why",
    ),
    "quiet hours over both changes of the clock": (
        "tests/reminders/test_clock_changes.py::test_quiet_hours_end_when_the_wall_says_so",
        "tests/reminders/test_deliver.py::test_quiet_hours_that_end_too_late_skip_it",
    ),
    "six hours without a worker: what came too late is left out, one digest a day": (
        "tests/reminders/test_deliver.py::test_a_late_reminder_expires",
        "tests/reminders/test_digest.py::test_it_comes_once_a_day_however_often_it_is_planned",
        "tests/reminders/test_digest.py::test_it_is_useless_at_noon_and_can_be_left_off",
    ),
    "five hundred at nine: by the pace allowed, in order, no channel holds up another": (
        "tests/reminders/test_pace.py::test_five_hundred_at_nine_leave_at_their_pace_in_the_order_in_which_they_were_due",
        "tests/reminders/test_pace.py::test_a_channel_that_is_down_or_slow_holds_up_no_other",
    ),
    "the database restarts in mid-request: told when to come again, done once, connections heal": (
        "tests/faults/test_full_stack.py::test_the_database_restarts_in_mid_request",
        "tests/people/test_trouble.py::test_a_write_that_dies_before_its_answer_leaves_nothing_and_the_same_request_does_it_once",
        "tests/people/test_trouble.py::test_only_what_the_database_took_back_is_done_again_at_once",
    ),
    "SQLite on a full, a read-only, a locked disk; twenty writers; a long reader": (
        "tests/faults/test_no_room.py::test_a_full_disk_says_so_and_what_is_stored_can_be_read_and_it_goes_on_with_room",
        "tests/faults/test_no_room.py::test_a_read_only_disk_says_so_and_what_is_stored_can_be_read",
        "tests/faults/test_no_room.py::test_a_lock_that_outlasts_the_patience_is_answered_with_when_to_come_again",
        "tests/faults/test_no_room.py::test_twenty_writers_at_once_are_all_served",
        "tests/faults/test_no_room.py::test_a_long_reader_does_not_hold_writers_up_and_the_log_shrinks_again",
    ),
    "a copy made while people write, brought into an empty machine; who was erased since; what waited to be sent": (
        "tests/trust/test_moving.py::test_a_copy_made_while_people_write_is_of_one_moment",
        "tests/trust/test_moving.py::test_the_drill_into_a_new_machine",
        "tests/trust/test_moving.py::test_whoever_was_erased_since_is_taken_out_again_before_anybody_can_look",
    ),
    "files of clients in a copy": (
        "There are none: nobody can upload anything, and drawings and handouts are made when asked."
    ),
    "a migration while the clinic works, forth and back over rows": (
        "tests/house/test_no_downtime.py::test_every_migration_adds_or_is_named_with_its_reason",
        "tests/house/test_no_downtime.py::test_the_newest_step_of_each_app_goes_back_and_forth_over_rows",
        "tests/faults/test_busy_table.py::test_a_table_in_use_is_not_waited_for_and_the_migration_is_whole_afterwards",
    ),
    "another secret key": (
        "tests/people/test_key_rotation.py::test_a_session_lives_through_a_change_of_key_when_its_owner_comes_back_in_time",
    ),
    # access
    "any route by anybody, with one's own things and another's": (
        "tests/access/test_matrix.py::test_the_row_holds",
        "tests/access/test_matrix.py::test_every_route_has_a_row_and_every_row_a_route",
        "tests/portal/test_somebody_elses.py::test_ids_of_adas_answer_as_ids_of_nobody",
        "tests/portal/test_somebody_elses.py::test_ids_of_adas_in_a_query_answer_as_ids_of_nobody",
    ),
    "somebody of another clinic in the same installation": (
        "tests/people/test_bad_requests.py::test_nobody_of_another_clinic_finds_a_client_of_this_one",
        "tests/reminders/test_views.py::test_a_message_of_another_practice_is_not_there",
    ),
    "the desk and what was said of a body: in pages, API, search, exports, charts, calendars, words of refusals": (
        "tests/access/test_matrix.py::test_nothing_of_a_record_gets_out",
        "tests/access/test_planted_leaks.py::test_a_clinical_field_in_a_serializer_of_the_desk",
        "tests/access/test_planted_leaks.py::test_the_words_of_a_refusal",
    ),
    "the desk and the administration of the framework": "There is none: the framework's admin is not installed.",
    "a role taken away, a person switched off, in an open session; their calendars and tokens": (
        "tests/people/test_bad_requests.py::test_a_role_that_was_taken_away_holds_no_longer_in_an_open_session",
        "tests/people/test_signin.py::test_a_deactivated_person_is_out_at_the_next_request",
        "tests/people/test_bad_requests.py::test_a_calendar_dies_with_its_owner",
        "tests/portal/test_tokens.py::test_one_that_does_not_hold_is_refused_alike",
    ),
    "a sign-in link opened by a scanner, used twice, too late, after a newer one": (
        "tests/people/test_signin.py::test_a_mail_scanner_that_opens_the_link_uses_nothing_up",
        "tests/people/test_signin.py::test_a_link_works_once",
        "tests/people/test_signin.py::test_a_link_is_dead_after_ten_minutes_but_alive_just_before",
        "tests/people/test_signin.py::test_a_newer_link_replaces_the_older",
    ),
    "a forged host in the request for a link": (
        "tests/people/test_bad_requests.py::test_a_link_in_a_mail_never_follows_the_address_somebody_asked_by",
    ),
    "trying out which addresses are known": (
        "tests/people/test_signin.py::test_an_unknown_address_gets_the_same_answer_on_screen",
        "tests/people/test_signin.py::test_staff_get_no_code_by_mail",
    ),
    "guessing passwords: slowed, and nobody else is locked out": (
        "tests/people/test_signin.py::test_guessing_is_slowed_and_locks_nobody_else_out",
    ),
    "a session from before signing in, or from before a new password": (
        "tests/people/test_proofs.py::test_signing_in_gives_a_new_session",
        "tests/people/test_proofs.py::test_signing_out_ends_the_session_on_the_server",
        "tests/people/test_bad_requests.py::test_a_new_password_ends_the_other_sessions",
    ),
    "exports and erasing in a session left open": (
        "tests/trust/test_person.py::test_exports_and_erasing_ask_who_is_there_once_more",
    ),
    "a forged form, with another content type, from another origin, as part of a page": (
        "tests/people/test_bad_requests.py::test_a_form_of_another_page_changes_nothing",
        "tests/people/test_bad_requests.py::test_no_content_type_gets_round_it",
        "tests/people/test_bad_requests.py::test_a_request_of_a_part_of_a_page_is_held_to_the_same",
    ),
    "a calendar's secret address that got out: ended at once, in no log, neutral, 304 tells nothing more": (
        "tests/booking/test_feeds.py::test_one_that_does_not_hold_is_the_same_nothing",
        "tests/booking/test_feeds.py::test_only_the_hash_is_kept_and_the_path_is_never_logged",
        "tests/booking/test_feeds.py::test_each_feed_says_when_and_nothing_of_whom_or_why",
        "tests/booking/test_feeds.py::test_what_has_not_changed_is_not_sent_again",
    ),
    "another clinician's client: only for a reason, for a time, told to the lead, in the trail": (
        "tests/trust/test_opening.py::test_the_record_opens_for_hours_and_the_lead_is_told",
        "tests/trust/test_opening.py::test_when_the_time_is_over_the_door_is_shut",
        "tests/trust/test_opening.py::test_a_refusal_opens_nothing_and_tells_nobody",
    ),
    "the trail changed, cut in the middle, cut at its end": (
        "tests/trust/test_chain.py::test_a_changed_row_is_named",
        "tests/trust/test_chain.py::test_a_link_cut_out_is_named",
        "tests/trust/test_chain.py::test_links_cut_off_the_end_show_by_a_head_kept_elsewhere",
    ),
}


@cache
def named_in(path: str) -> frozenset[str]:
    tree = ast.parse((ROOT / path).read_text("utf-8"))
    return frozenset(node.name for node in tree.body if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"))


@pytest.mark.parametrize("fault", FAULTS)
def test_each_has_a_test_or_a_sentence(fault: str):
    shown = FAULTS[fault]
    if isinstance(shown, str):
        assert len(shown.split()) > 6
        return
    assert shown
    for name in shown:
        path, _, function = name.partition("::")
        assert function in named_in(path), name
