"""Bad rows for the rules of file, header, text and cell: what spreadsheets, editors and slips of the hand do."""

from bad_rows import GOOD, HEADER, SOURCES, TUBES, Case

RELATIONS = "type,substitute,relation,condition,source_id,locator,evidence,note\n"
CORRECTION = {"table": "tubes", "subject": "6J5", "column": "heater_a", "printed_in": "book", "printed": "0.3",
              "corrected": "0.31", "status": "accepted", "reason": "slip of the printer"}
WAIVER = {"type": "6J5", "rule": "retma-heater", "reason": "known"}


def file(rule: str, name: str, data: str | bytes, line: int, column: str = "-", value: str = "") -> Case:
    """The tubes' file as it stands, and the one fault in it."""
    return Case(rule, name, {"tubes": data}, [("tubes", line, column, value)])


def typed(rule: str, name: str, column: str, old: str, new: str, value: str | None = None) -> Case:
    """The one good row with `new` for `old`, and the one fault in it, on line 2."""
    assert GOOD.count(old) == 1, old
    return Case(rule, name, {"tubes": HEADER + GOOD.replace(old, new)},
                [("tubes", 2, column, new.strip(",") if value is None else value)])


def header(rule: str, name: str, old: str, new: str, column: str, value: str) -> Case:
    return file(rule, name, HEADER.replace(old, new) + GOOD, 1, column, value)


FILES = [
    Case("no-raw-files", "folders misnamed", {"sources": b"", "tubes": b""}, [("", 1, "-", "")]),
    Case("file-stray", "folder misspelled", {"tubes/tube/b.csv": TUBES}, [("tubes/tube/b.csv", 1, "-", "b.csv")]),
    Case("file-stray", "a workbook", {"tubes/tubes/b.xlsx": b"PK"}, [("tubes/tubes/b.xlsx", 1, "-", "b.xlsx")]),
    Case("file-stray", "suffix in capitals", {"tubes/tubes/b.CSV": TUBES}, [("tubes/tubes/b.CSV", 1, "-", "b.CSV")]),
    file("byte-order-mark", "UTF-8 with BOM", b"\xef\xbb\xbf" + TUBES.encode(), 1),
    file("not-utf-8", "CP1252", (TUBES + "6V6,triode,µ\n").encode("cp1252"), 3, value="µ"),
    file("not-utf-8", "UTF-16", TUBES.encode("utf-16"), 1),
    file("not-utf-8", "a byte that CP1252 does not know", (TUBES + "6V6").encode() + b"\x81\n", 3),
    file("not-text", "a workbook named .csv", b"PK\x03\x04\n\0\0", 2),
    file("csv-broken", "quotation mark never closed", HEADER + GOOD.replace("book,", 'book,"page 1') + GOOD, 2),
    file("csv-broken", "text behind a closing mark", TUBES + GOOD.replace("6J5", '"6C5" '), 3),
    file("csv-broken", "a cell without end", HEADER + GOOD.replace(",\n", "," + "x" * 140_000 + "\n"), 2),
    file("empty-file", "no byte", "", 1),
    file("empty-file", "only blank lines", "\n\n", 1),
    file("line-ends", "CR LF", TUBES.replace("\n", "\r\n"), 1),
    file("line-ends", "CR", TUBES.replace("\n", "\r"), 1),
    file("final-newline", "cut off", TUBES.rstrip("\n"), 2),
]
HEADERS = [
    file("semicolons", "saved in a country of decimal commas", TUBES.replace(",", ";"), 1,
         value=HEADER.strip().replace(",", ";")),
    file("tabs", "pasted from a table", TUBES.replace(",", "\t"), 1, value=HEADER.strip().replace(",", "\t")),
    file("header-missing", "rows only", GOOD, 1, value=GOOD.strip()),
    file("columns-empty", "empty columns of a sheet", HEADER.strip() + ",,\n" + GOOD.strip() + ",,\n", 1,
         value=HEADER.strip() + ",,"),
    header("column-unknown", "another name", "heater_a,", "heater_amps,", "heater_amps", "heater_amps"),
    header("column-unknown", "a capital", "type", "Type", "Type", "Type"),
    header("column-unknown", "a control character", "heater_a,", "heater_\x1b[1ma,", "heater_\x1b[1ma", "heater_\x1b[1ma"),
    header("column-unknown", "one too many", "note", "note,seen", "seen", "seen"),
    header("column-twice", "in the place of another", "envelope", "base", "base", "base"),
    header("column-twice", "at the end", "note", "note,base", "base", "base"),
    header("column-missing", "deleted", "heater_a,", "", "heater_a", ""),
    header("column-order", "two exchanged", "heater_v,heater_a", "heater_a,heater_v", "-",
           HEADER.strip().replace("heater_v,heater_a", "heater_a,heater_v")),
]
TEXT = [
    typed("no-break-space", "inside", "base", "octal", "oct\u00a0al"),
    typed("no-break-space", "at the end", "base", "octal", "octal\u00a0"),
    typed("no-break-space", "a narrow blank", "note", "recalled,", "recalled,6.3\u202fV", "6.3\u202fV"),
    typed("padding", "behind", "base", "octal", "octal "),
    typed("padding", "before a number", "heater_v", "6.3", " 6.3"),
    typed("line-break", "quoted", "note", "recalled,", 'recalled,"one\ntwo"', "one\ntwo"),
    typed("line-break", "with whole rows in it", "note", "recalled,", 'recalled,"one\n6C5,triode,"', "one\n6C5,triode,"),
    typed("control-character", "a bell", "base", "octal", "oct\x07al"),
    typed("control-character", "turning the reading direction", "note", "recalled,", "recalled,a\u202eb", "a\u202eb"),
    typed("control-character", "no width", "type", "6J5", "6J\u200b5"),
    typed("spreadsheet-error", "a formula's error", "base", "octal", "#NAME?"),
    typed("spreadsheet-error", "a column too narrow", "heater_v", "6.3", "####"),
    typed("mojibake", "micro", "note", "recalled,", "recalled,0.1 ÂµF", "0.1 ÂµF"),
    typed("mojibake", "umlaut", "note", "recalled,", "recalled,RÃ¶hre", "RÃ¶hre"),
    typed("mojibake", "omega", "note", "recalled,", "recalled,10 Î©", "10 Î©"),
    typed("mojibake", "lost letter", "note", "recalled,", "recalled,10 \ufffdF", "10 \ufffdF"),
    typed("exponent-name", "as Excel shows it", "type", "6J5", "6.00E+05"),
    typed("exponent-name", "as pandas writes it", "type", "6J5", "600000"),
    typed("exponent-name", "with a decimal comma", "type", "6J5", '"6,00E+05"', "6,00E+05"),
    typed("date-name", "English", "type", "6J5", "2-Jan"),
    typed("date-name", "with the year", "type", "6J5", "02-Jan-2024"),
    typed("date-name", "German", "type", "6J5", "02. Mai"),
    typed("date-name", "ISO", "type", "6J5", "2024-01-02"),
    typed("date-name", "slashes", "base", "octal", "1/2/2024"),
    typed("decimal-name", "a number's decimals", "type", "6J5", "6267.0"),
    typed("lost-zeros", "01 become 1", "type", "6J5", "1"),
    typed("mixed-letters", "a Cyrillic letter", "type", "6J5", "6JА5"),
]
CELLS = [
    file("blank-line", "no cell", HEADER + "\n" + GOOD, 2),
    file("blank-line", "before the header", "\n" + TUBES, 1),
    file("blank-line", "only commas", TUBES + "," * HEADER.count(",") + "\n", 3),
    file("cell-count", "a comma too many", HEADER + GOOD.replace("book", "book,x"), 2,
         value=GOOD.strip().replace("book", "book,x")),
    file("cell-count", "a decimal comma without quotation marks", HEADER + GOOD.replace("6.3", "6,3"), 2,
         value=GOOD.strip().replace("6.3", "6,3")),
    file("cell-count", "a row cut short", TUBES + "6C5,triode\n", 3, value="6C5,triode"),
    typed("decimal-comma", "quoted", "heater_v", "6.3", '"6,3"', "6,3"),
    typed("decimal-comma", "thousands", "heater_v", "6.3", '"6,300.5"', "6,300.5"),
    typed("number-form", "leading zero", "heater_v", "6.3", "06.3"),
    typed("number-form", "leading point", "heater_a", "0.3", ".3"),
    typed("not-a-number", "a unit", "heater_v", "6.3", "6.3 V"),
    typed("not-a-number", "an exponent", "heater_v", "6.3", "6.3E+00"),
    typed("not-a-number", "figures of another script", "heater_v", "6.3", "6.٣"),
    typed("not-a-number", "not a number", "heater_v", "6.3", "nan"),
    typed("cell-missing", "no source", "source_id", "book", ""),
    typed("cell-missing", "no type", "type", "6J5", ""),
    Case("cell-missing", "a waiver without a reason", {"designation_exceptions": [WAIVER | {"reason": ""}]},
         [("designation_exceptions", 2, "reason", "")]),
    typed("word-unknown", "misspelled", "function", "triode", "triod"),
    typed("word-unknown", "an evidence we do not have", "evidence", "recalled", "sure"),
    typed("out-of-range", "a slipped point", "heater_v", "6.3", "630"),
    typed("out-of-range", "four hundred figures", "heater_v", "6.3", "9" * 400),
    file("row-twice", "the same source", TUBES + GOOD.replace("0.3", "0.31"), 3, "type", "6J5"),
]


def correction(rule: str, column: str, /, **cells: str) -> Case:
    return Case(rule, ", ".join(cells.values()), {"corrections": [CORRECTION | cells]},
                [("corrections", 2, column, (CORRECTION | cells)[column])])


RECORDS = [
    correction("correction-place", "table", table="tubs"),
    correction("correction-place", "column", column="heater_amps"),
    correction("correction-unused", "subject", subject="6C5"),
    correction("correction-unused", "subject", printed_in="sheet"),
    correction("correction-guard", "printed", printed="0.4"),
    correction("correction-value", "corrected", corrected="a third"),
    correction("correction-value", "corrected", corrected="300"),
    correction("word-unknown", "status", status="taken"),
    Case("row-twice", "a correction", {"corrections": [CORRECTION | {"status": "proposed"}] * 2},
         [("corrections", 3, "table", "tubes")]),
    Case("rule-unknown", "misspelled", {"designation_exceptions": [WAIVER | {"rule": "retma-heter"}]},
         [("designation_exceptions", 2, "rule", "retma-heter")]),
    Case("rule-unknown", "the faulty tube is weighed when it is mended", {
        "tubes": TUBES.replace("6.3", "5"), "designation_exceptions": [WAIVER | {"rule": "retma-heter"}]},
        [("designation_exceptions", 2, "rule", "retma-heter")]),
    Case("waiver-unused", "nothing to waive", {"designation_exceptions": [WAIVER]},
         [("designation_exceptions", 2, "rule", "retma-heater")]),
    Case("source-unknown", "the source's own row is missing", {"sources": SOURCES.replace("\nbook,", "\nbok,")},
         [("tubes", 2, "source_id", "book")]),
]

CASES = [*FILES, *HEADERS, *TEXT, *CELLS, *RECORDS]
