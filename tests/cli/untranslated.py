#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""untranslated.py ENGLISH.xlsx OTHER.xlsx TEXT...: the cells, tabs and names of series that are the same in both workbooks,
though they are neither sentences nor anything that the TEXT files hold: labels that no translator can reach."""

import json
import re
import sys

import openpyxl


def strings(book):
    for sheet in book:
        for row in sheet.iter_rows():
            for cell in row:
                if isinstance(cell.value, str) and not cell.value.startswith("="):
                    yield sheet.title, cell.coordinate, cell.value


def main():
    english = openpyxl.load_workbook(sys.argv[1])
    other = openpyxl.load_workbook(sys.argv[2])
    known = "\n".join(open(path, encoding="utf-8", errors="replace").read() for path in sys.argv[3:])
    try:
        known += "\n".join(s["text"] for s in json.loads(known[known.index("{\n"):])["sentences"])
    except ValueError:
        pass
    known = " ".join(known.split())
    there = {(place, value) for _, place, value in strings(other)}
    missed = set()
    for sheet, place, value in strings(english):
        words = " ".join(value.split())
        place_of_a_file = re.search(r"\S+:\d+:\d+", value)
        of_the_input = all(part in known for part in re.split(" · |: |; ", words))
        names = re.fullmatch(r"[a-z]+_[a-z_, ]+", value)
        if (place, value) in there and re.search(r"[A-Za-z]{2}", value) and not (place_of_a_file or of_the_input or names):
            missed.add((sheet, value))
    missed |= {("tab", title) for title in english.sheetnames if title in other.sheetnames}
    for sheet, value in sorted(missed):
        print(f"{sheet}: {value}")
    return bool(missed)


sys.exit(main())
