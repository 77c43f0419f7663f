"""Writes fixtures/messy_export/: the export of an invented clinic, and the list of the faults planted in it.

Run it from the root of the project: `python -m tests.importing.make_messy_export`. Everybody is invented; phone numbers
are from the ranges Ofcom keeps for drama (01632 960xxx, 07700 900xxx). A row is (cells, faults); a fault is
(column, code), or (column, code, "noted") for a remark on a row that arrives.
"""

from __future__ import annotations

import csv
import io
import json
from datetime import date, datetime, time, timedelta
from pathlib import Path

import openpyxl
from openpyxl.worksheet.worksheet import Worksheet

FOLDER = Path(__file__).resolve().parents[2] / "fixtures" / "messy_export"
RAS, NOOR = "Rasmus Okoro", "Noor Halloran"   # clinicians of the demo clinic, so that it can be tried there
REPEATED = [("", "headings_again", "noted")]

CLIENT_HEAD = [
    "Client No", "First name", "Surname", "Date of birth", "Telephone", "E-mail", "Email OK", "Precautions", "Diary",
]
GOOD_CLIENTS = [
    ("1001", "Ángela", "Núñez", "14/03/1981", "01632 960101", "angela@mail.example", "yes", "", ""),
    ("1002", "José", "Brîn", "1976-11-02", "(01632) 960 102", "jose@mail.example", "Y", "", ""),
    ("1003", "Björk", "Øster", "3 March 1990", "+44 1632 960103", "BJORK@Mail.Example", "true", "", ""),
    ("1004", "Zoë", "Hale", "27.09.1968", "+44 (0)1632 960104", "zoe@mail.example", "1", "", ""),
    ("1005", "Siân", "Prys", "05/06/1985", "0044 1632 960105", "sian@mail.example", "x", "", ""),
    ("1006", "Noor", "", "19/12/1999", "07700-900-106", "noor@mail.example", "no", "", ""),
    ("1007", "Ewan", "O'Dell", "8 Jan 1958", "07700900107", "", "", "", "prefers mornings"),
    ("1008", "Márta", "Kéri", "30/11/1972", "Tel: 07700 900 108", "marta@mail.example", "yes", "", ""),
    ("1009", "John", "Reed", "01/02/1950", "07700.900.109", "", "", "", ""),
    ("1010", "John", "Reed", "21/07/1983", "+447700900110", "john.r@mail.example", "yes", "", ""),
    ("1011", "Priya", "Vane", "16-08-1994", "07700 900111", "priya@mail.example", "yes", "", ""),
    ("1012", "Lucía", "Marsh-Ito", "August 9, 1979", "  07700   900112 ", "lucia@mail.example", "yes", "", ""),
    ("1013", "Tom", "Ffoulkes", "20/10/1965", "", "tom@mail.example", "yes", "", ""),
    ("1014", "Inès", "Dray", "13/05/2001", "07700 900114", "ines@mail.example", "sí", "", ""),
    ("1015", "Wei", "Sand", "25/12/1988", "07700 900115", "wei@mail.example", "yes", "osteoporosis", ""),
    ("1016", "Øyvind", "Lark", "17th June 1970", "07700 900116", "oyvind@mail.example", "0", "", 'says "maybe\nlater"'),
    ("1017", "Chloë", "Ames", "22/01/1992", "07700 900117", "chloe@mail.example", "yes", "", "a; b; c"),
    ("1018", "Radek", "Žert", "11/11/1977", "07700 900118", "radek@mail.example", "yes", "", ""),
    ("1019", "Fay", "Lund", "31/12/1980", "07700 900119", "fay@mail.example", "yes", "", ""),
    ("1020", "Gus", "Tern", "28/02/1996", "07700 900120", "gus@mail.example", "yes", "", ""),
    ("1021", "Hana", "Quist", "29/02/1996", "07700 900121", "hana@mail.example", "yes", "", ""),
    ("1022", "Ivo", "Pell", "15/09/1961", "07700 900122", "ivo@mail.example", "yes", "", ""),
    ("1023", "June", "Moss", "18/04/1969", "01632 960123", "june@mail.example", "yes", "", ""),
    ("1024", "Karl", "Übel", "23/03/1974", "01632 960124", "karl@mail.example", "yes", "", ""),
    ("1025", "Lía", "Ott", "26/06/2003", "01632 960125", "lia@mail.example", "yes", "", ""),
]
BAD_CLIENTS = [
    (("1031", "Ned", "Vole", "30/02/1979", "07700 900131", "", "", "", ""), [("Date of birth", "no_such_day")]),
    (("1001", "Ángela", "Núñez", "14/03/1981", "01632 960101", "", "", "", ""), [("", "duplicate_in_file")]),
    (("1032", "Angela", "Nunez", "14.03.1981", "01632 960199", "", "", "", ""), [("", "duplicate_client")]),
    (("", "ZOE", "HALE", "27/09/1968", "", "", "", "", ""), [("", "duplicate_client")]),
    (("1033", "Olly", "Finch", "02/05/1991", "07700 9OO133", "", "", "", ""), [("Telephone", "not_a_phone")]),
    (("1034", "Pia", "Wren", "03/05/1991", "0163", "", "", "", ""), [("Telephone", "not_a_phone")]),
    (("1035", "Quin", "Teal", "04/05/1991", "07700 900135 / 01632 960135", "", "", "", ""),
     [("Telephone", "several_phones")]),
    (("1036", "Rhys", "Swan", "05/05/61", "07700 900136", "", "", "", ""), [("Date of birth", "short_year")]),
    (("1037", "Suki", "Crane", "06/05/2191", "07700 900137", "", "", "", ""), [("Date of birth", "invalid")]),
    (("1038", "", "Heron", "07/05/1991", "07700 900138", "", "", "", ""), [("First name", "missing_value")]),
    (("1039", "Una", "Stork", "08/05/1991", "", "una at mail.example", "perhaps", "", ""),
     [("E-mail", "not_an_email"), ("Email OK", "not_yes_or_no")]),
    (("1040", "Vera", "Rook", "09/05/1991", "", "tom@mail.example", "", "", ""), [("E-mail", "email_taken")]),
    (("1041", "Wil\x00l", "Jay", "10/05/1991", "", "", "", "", ""), [("First name", "control_character")]),
    (("1042", "Xan\x07der", "Kite", "11/05/1991", "", "", "", "", ""), [("First name", "control_character")]),
    (("", "Yara", "Dove", "", "", "", "", "", ""), [("", "cannot_identify")]),
    (("1043", "Zed", "Gull", "12/05/1991", "", "", "", "lycanthropy", ""), [("Precautions", "unknown_word")]),
    (("1044", "Abe", "Lark", "12/05/1991", "", "", "", "", "", "one cell more"), [("", "too_many_cells")]),
]

VISIT_HEAD = [
    "Booking ref", "Client No", "Client", "Date", "Start time", "Duration (min)", "Practitioner", "Type", "Room", "Status",
    "Notes",
]
BAD_VISITS = [
    (("V801", "1001", "", date(2026, 3, 29), time(1, 30), 30, RAS, "Follow-up", "", "booked", ""),
     [("Start time", "nonexistent_time")]),
    (("V802", "1002", "", date(2026, 10, 25), time(1, 30), 30, RAS, "Follow-up", "", "booked", ""),
     [("Start time", "ambiguous_time")]),
    (("V803", "1003", "", date(2026, 10, 25), "01:30 BST", 30, RAS, "Follow-up", "", "booked", ""), []),
    (("V804", "1004", "", date(2026, 10, 25), "01:30+00:00", 30, RAS, "Follow-up", "", "booked", ""), []),
    (("V805", "1005", "", date(2026, 10, 25), "01:30 CET", 30, RAS, "Follow-up", "", "booked", ""),
     [("Start time", "unknown_offset")]),
    (("V806", "1024", "", date(2026, 1, 12), time(9, 15), 30, RAS, "Follow-up", "", "attended", ""),
     [("Date", "slot_taken")]),
    (("V807", "1017", "", date(2026, 1, 26), time(9, 0), 30, NOOR, "Follow-up", "", "attended", ""),
     [("Date", "slot_taken")]),
    (("V001", "1001", "", date(2026, 1, 12), time(9, 0), 60, RAS, "First visit", "", "attended", ""),
     [("", "duplicate_in_file")]),
    (("V809", "9999", "", date(2026, 2, 20), time(9, 0), 30, RAS, "Follow-up", "", "booked", ""),
     [("Client No", "unknown_client")]),
    (("V810", "1031", "", date(2026, 2, 20), time(9, 0), 30, RAS, "Follow-up", "", "booked", ""),
     [("Client No", "unknown_client")]),
    (("V811", "", "John Reed", date(2026, 2, 20), time(9, 0), 30, RAS, "Follow-up", "", "booked", ""),
     [("Client", "several_clients")]),
    (("V812", "", "=HYPERLINK(\"x\")", date(2026, 2, 20), time(9, 0), 30, RAS, "Follow-up", "", "booked", ""),
     [("Client", "unknown_client")]),
    (("V813", "1005", "", date(2026, 2, 20), time(9, 0), 30, "Dr Whitlow", "Follow-up", "", "booked", ""),
     [("Practitioner", "unknown_clinician")]),
    (("V814", "1005", "", date(2026, 2, 20), time(9, 0), 30, RAS, "Seance", "", "booked", ""),
     [("Type", "unknown_visit_type")]),
    (("V815", "1005", "", date(2026, 2, 20), time(9, 0), 30, RAS, "Follow-up", "Cellar", "booked", ""),
     [("Room", "unknown_room")]),
    (("V816", "1005", "", "30/02/2026", time(9, 0), 30, RAS, "Follow-up", "", "booked", ""),
     [("Date", "no_such_day")]),
    (("V817", "1005", "", date(2026, 2, 20), time(9, 0), -30, RAS, "Follow-up", "", "booked", ""),
     [("Duration (min)", "out_of_range")]),
    (("V818", "1005", "", date(2026, 2, 20), "25:00", "half an hour", RAS, "Follow-up", "", "perhaps", ""),
     [("Start time", "not_a_time"), ("Duration (min)", "not_a_number"), ("Status", "unknown_word")]),
    (("V819", "1005", "", date(2026, 2, 20), None, 30, RAS, "Follow-up", "", "booked", ""),
     [("Start time", "missing_value")]),
    (("V820", "1005", "", date(2026, 2, 20), "10:02", 30, RAS, "Follow-up", "", "booked", ""), [("Date", "off_grid")]),
    (("V821", "1005", "", date(2027, 9, 14), time(9, 0), 30, RAS, "Follow-up", "", "attended", ""),
     [("Status", "not_yet")]),
    (("V822", "1005", "", date(2062, 2, 20), time(9, 0), 30, RAS, "Follow-up", "", "booked", ""), [("Date", "too_far")]),
    (("V823", "1005", "", "#REF!", time(9, 0), 30, RAS, "Follow-up", "", "booked", ""), [("Date", "not_a_date")]),
    (("V824", "1005", "", None, time(9, 0), 30, RAS, "Follow-up", "", "booked", ""), [("Date", "missing_value")]),
    (("V825", "1006", "", date(2026, 2, 19), time(16, 0), 30, NOOR, "Follow-up", "", "booked", ""),
     [("", "outcome_open", "noted")]),
]

OLD_HEAD = ["client", "visit date", "at", "with", "service", "outcome"]
OLD_VISITS = [
    (("1011", "05/11/2025", "9.30am", NOOR, "first", "seen"), [("visit date", "ambiguous_date")]),
    (("1012", "06/11/2025", "14h30", NOOR, "first", "seen"), [("visit date", "ambiguous_date")]),
    (("1013", "11/11/2025", "2pm", NOOR, "first", "DNA"), []),
    (("1014", "5 Nov 2025", "0945", NOOR, "first", "late cancel"), []),
]

PROGRAM_HEAD = ["Program ID", "Client No", "Program", "Start date", "Clinician", "Body region", "Side", "Complaint"]
TEMPLATES = ["hip-and-glute-start", "neck-and-desk", "knee-strength", "ankle-return"]
REGIONS = ["hip", "neck", "knee", "ankle"]
BAD_PROGRAMS = [
    (("P901", "1014", "=cmd|' /C calc'!A0", "02/16/2026", RAS, "knee", "left", ""), [("Program", "unknown_template")]),
    (("P902", "9998", "knee-strength", "02/16/2026", RAS, "knee", "left", ""), [("Client No", "unknown_client")]),
    (("P903", "1015", "knee-strength", "02/16/2026", "Dr Whitlow", "knee", "left", ""),
     [("Clinician", "unknown_clinician")]),
    (("P904", "1015", "knee-strength", "02/16/2026", RAS, "", "left", ""), [("Body region", "missing_value")]),
    (("P905", "1001", "knee-strength", "02/16/2026", RAS, "hip", "left", ""), [("", "already_open")]),
    (("P906", "1015", "knee-strength", "02/30/2026", RAS, "knee", "left", ""), [("Start date", "no_such_day")]),
    (("P907", "1015", "knee-strength", "", RAS, "soul", "left", ""),
     [("Start date", "missing_value"), ("Body region", "unknown_word")]),
    (("P001", "1001", "hip-and-glute-start", "02/02/2026", RAS, "hip", "left", ""), [("", "duplicate_in_file")]),
]

LOG_HEAD = ["Log ID", "Client No", "Date", "Session", "Done", "Exercises", "Minutes", "Pain", "Effort", "Felt", "Comments"]
BAD_LOGS = [
    (("L901", "1001", "2026-02-10", "1", "yes", "", "", "11", "4", "", ""), [("Pain", "out_of_range")]),
    (("L902", "1001", "2026-02-10", "1", "", "", "-5", "2", "4", "", ""), [("Minutes", "out_of_range")]),
    (("L903", "1001", "2026-02-10", "1", "yes", "", "", "2", "hard", "", ""), [("Effort", "not_a_number")]),
    (("L904", "1001", "30/02/2026", "1", "yes", "", "", "2", "4", "", ""), [("Date", "no_such_day")]),
    (("L905", "9997", "2026-02-10", "1", "yes", "", "", "2", "4", "", ""), [("Client No", "unknown_client")]),
    (("L906", "1001", "2026-01-05", "1", "yes", "", "", "2", "4", "", ""), [("Date", "no_program")]),
    (("L907", "1020", "2026-02-10", "1", "yes", "", "", "2", "4", "", ""), [("Date", "no_program")]),
    (("L908", "1001", "2026-02-10", "1", "", "levitation: yes", "", "2", "4", "", ""),
     [("Exercises", "unknown_exercise")]),
    (("L909", "1001", "2026-02-10", "1", "rather", "", "", "3,5", "4", "", ""),
     [("Done", "unknown_word"), ("Pain", "not_whole")]),
    (("L001", "1001", "2026-02-02", "1", "yes", "", "", "3", "4", "", ""), [("", "duplicate_in_file")]),
    (("L911", "1001", "2026-02-10", "1", "yes", "", "", "2", "4", "", "a\x00b"), [("Comments", "control_character")]),
    (("L912", "1001", "", "1", "yes", "", "", "2", "4", "", ""), [("Date", "missing_value")]),
    (("L913", "1001", "2026-02-10", "1", "", "", "", "2", "4", "", ""), [("Done", "missing_value")]),
    (("L914", "1001", "2027-12-24", "1", "yes", "", "", "2", "4", "", ""), [("Date", "clock_ahead")]),
]


def clients() -> list[tuple[tuple[str, ...], list[tuple[str, ...]]]]:
    """Good rows with the bad ones among them, the headings once more in the middle."""
    rows = [(row, []) for row in GOOD_CLIENTS]
    return [*rows[:13], *BAD_CLIENTS[:9], (tuple(CLIENT_HEAD), REPEATED), *rows[13:], *BAD_CLIENTS[9:]]


def visits() -> list[tuple[tuple[object, ...], list[tuple[str, ...]]]]:
    """Past first visits and follow-ups, coming ones after 2 March 2026: one an hour and clinician."""
    rows: list[tuple[tuple[object, ...], list[tuple[str, ...]]]] = []
    forms = (
        lambda day: day, lambda day: f"{day:%d/%m/%Y}", lambda day: f"{day:%d.%m.%Y}", lambda day: f"{day:%d %b %Y}",
        lambda day: day.isoformat(), lambda day: datetime.combine(day, time()),
    )
    clocks = (lambda at: at, lambda at: f"{at:%H:%M}", lambda at: f"{at:%I.%M%p}".lower(), lambda at: at.hour / 24)
    status = ("attended", "Completed", "DNA", "Cancelled", "seen")
    for number in range(48):
        past = number < 32
        week, place = divmod(number if past else number - 32, 8)
        day = date(2026, 1, 12) + timedelta(weeks=week) if past else date(2026, 3, 9) + timedelta(weeks=week)
        at = time(9 + place // 2 * 2)
        first = number < 16
        said = ("attended" if first else status[number % 5]) if past else ("booked", "Confirmed")[number % 2]
        name = "Jose\u0301 Bri\u0302n" if number == 1 else ""
        rows.append((
            (
                f"V{number + 1:03}", "" if name else 1001 + number % 25, name, forms[number % 6](day),
                clocks[number % 4](at), 60 if first else 30, (RAS, "noor@tidewater.example")[number % 2],
                "First visit" if first else "Follow-up", "", said, "=1+1" if number == 3 else "",
            ),
            [],
        ))
    head: tuple[object, ...] = tuple(VISIT_HEAD)
    return [*rows[:30], (head, REPEATED), *rows[30:], *BAD_VISITS]


def programs() -> list[tuple[tuple[str, ...], list[tuple[str, ...]]]]:
    """Twelve programs from 2 February on, month first as an American export has it."""
    rows: list[tuple[tuple[str, ...], list[tuple[str, ...]]]] = []
    for number in range(12):
        day = date(2026, 2, 2) + timedelta(days=number % 3 * 7)
        rows.append((
            (
                f"P{number + 1:03}", f"{1001 + number}", TEMPLATES[number % 4], f"{day:%m/%d/%Y}",
                ("Okoro, Rasmus", "noor halloran")[number // 4 % 2], REGIONS[number % 4], ("left", "R", "both")[number % 3],
                "Stiff, after sitting" if number % 2 else "",
            ),
            [],
        ))
    return [*rows, *BAD_PROGRAMS]


def logs() -> list[tuple[tuple[str, ...], list[tuple[str, ...]]]]:
    """Sessions of the first six programs, from their first day on."""
    rows: list[tuple[tuple[str, ...], list[tuple[str, ...]]]] = []
    done = ("yes", "half", "no", "Yes", "")
    for number in range(72):
        client, index = number % 6, number // 6
        day = date(2026, 2, 2) + timedelta(days=client % 3 * 7 + index)
        answer = done[number % 5]
        rows.append((
            (
                f"L{number + 1:03}", f"{1001 + client}",
                (f"{day:%d/%m/%Y}", day.isoformat(), f"{day:%d %B %Y}")[number % 3], "1", answer, "",
                "" if answer else ("12", "7,5")[number % 2], str(number % 6), f"{number % 9}/10",
                ("", "about right", "too easy", "too hard")[number % 4],
                ("", "@ease, -ish", "+ better\tnow", "quiet day; \"fine\"")[number % 4],
            ),
            [],
        ))
    done_of_each = "clamshell: yes | Side plank: 20 s | roll-glute: 40/35 s"
    items = ("L073", "1001", "2026-02-14", "2", "", done_of_each, "", "1", "3", "", "")
    return [*rows, (items, []), *BAD_LOGS]


def as_csv(rows: list[list[str]], delimiter: str) -> str:
    """The rows as CSV with CRLF (RFC 4180)."""
    stream = io.StringIO()
    csv.writer(stream, delimiter=delimiter).writerows(rows)
    return stream.getvalue()


def lay_csv(name: str, head: list[str], rows: list, delimiter: str, codec: str, faults: list[dict]) -> None:
    """Write one CSV file with blank lines at its end; note the line each planted fault stands on."""
    text = as_csv([head], delimiter)
    for cells, planted in rows:
        note(faults, name, text.count("\n") + 1, planted)
        text += as_csv([list(cells)], delimiter)
    if name == "clients.csv":   # a quotation mark that is never closed
        note(faults, name, text.count("\n") + 1, [("", "unclosed_quote")])
        text += '1045;Bea;"Lark;12/05/1992;;;;;\r\n'
        text += "1026;Cal;Reeve;13/05/1992;01632 960126;;;;\r\n"
    (FOLDER / name).write_bytes((text + delimiter * 3 + "\r\n\r\n").encode(codec))


def lay_xlsx(name: str, rows: list, faults: list[dict]) -> None:
    """Write the workbook: a title above the headings, dates and times as real cells beside typed ones."""
    book = openpyxl.Workbook()
    sheet: Worksheet = book.active
    sheet.title = "Visits"
    sheet.append(["Export of all visits, 2 March 2026"])
    sheet.append([])
    sheet.append(VISIT_HEAD)
    for line, (cells, planted) in enumerate(rows, start=4):
        note(faults, name, line, planted)
        for column, value in enumerate(cells, start=1):
            cell = sheet.cell(line, column, value)
            if isinstance(value, str) and value.startswith("="):
                cell.data_type = "s"   # text as it was typed, not a formula
    hidden = book.create_sheet("Lists")
    hidden.append(["Follow-up"])
    hidden.sheet_state = "hidden"
    book.properties.created = book.properties.modified = datetime(2026, 3, 2)
    book.save(FOLDER / name)


def note(faults: list[dict], name: str, line: int, planted: list[tuple[str, ...]]) -> None:
    """List the faults of one row."""
    for column, code, *outcome in planted:
        faults.append({
            "file": name, "line": line, "column": column, "code": code, "outcome": outcome[0] if outcome else "refused",
        })


def main() -> None:
    """Write every file and faults.json."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    faults: list[dict] = []
    # Ž is in Windows-1252; a file in Latin-1 proper could not hold it
    lay_csv("clients.csv", CLIENT_HEAD, clients(), ";", "cp1252", faults)
    lay_xlsx("visits.xlsx", visits(), faults)
    lay_csv("visits_2025.csv", OLD_HEAD, OLD_VISITS, "\t", "utf-8", faults)
    lay_csv("programs.csv", PROGRAM_HEAD, programs(), ",", "utf-8", faults)
    lay_csv("logs.csv", LOG_HEAD, logs(), ",", "utf-8-sig", faults)
    text = json.dumps(faults, indent=1, ensure_ascii=False)
    (FOLDER / "faults.json").write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
