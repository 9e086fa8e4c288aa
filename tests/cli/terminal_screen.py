"""What stands on the screen of a VT100 after a program has written to it. Knows what ncurses sends to a VT100, and
fails on anything else, so that nothing is shown wrong in silence."""

import re

SEQUENCE = re.compile(r"\x1b(?:\[(?P<private>\??)(?P<numbers>[0-9;]*)(?P<kind>[A-Za-z])|(?P<plain>[A-Za-z78=>])|[()][A-Z0-9])")


class Screen:
    def __init__(self, rows, columns):
        self.rows, self.columns = rows, columns
        self.lines = [[" "] * columns for _ in range(rows)]
        self.row = self.column = 0
        self.top, self.bottom = 0, rows - 1
        self.rest = ""

    def __str__(self):
        return "\n".join("".join(line) for line in self.lines)

    def write(self, text):
        text, self.rest = self.rest + text, ""
        at = 0
        while at < len(text):
            character = text[at]
            if character == "\x1b":
                found = SEQUENCE.match(text, at)
                if found is None:
                    if len(text) - at > 32:
                        raise ValueError(f"unknown sequence {text[at:at + 32]!r}")
                    self.rest = text[at:]
                    return
                self.obey(found)
                at = found.end()
                continue
            self.put(character)
            at += 1

    def put(self, character):
        if character == "\r":
            self.column = 0
        elif character == "\n":
            self.down()
        elif character == "\b":
            self.column = max(self.column - 1, 0)
        elif character == "\t":
            self.column = min((self.column // 8 + 1) * 8, self.columns - 1)
        elif character >= " " and character != "\x7f":
            if self.column == self.columns:
                self.column = 0
                self.down()
            self.lines[self.row][self.column] = character
            self.column += 1

    def down(self):
        if self.row == self.bottom:
            del self.lines[self.top]
            self.lines.insert(self.bottom, [" "] * self.columns)
        else:
            self.row = min(self.row + 1, self.rows - 1)

    def up(self):
        if self.row == self.top:
            del self.lines[self.bottom]
            self.lines.insert(self.top, [" "] * self.columns)
        else:
            self.row = max(self.row - 1, 0)

    def erase(self, row, first, last):
        self.lines[row][first:last] = [" "] * (last - first)

    def obey(self, found):
        numbers = [int(number or 0) for number in (found["numbers"] or "").split(";")]
        count, kind = max(numbers[0], 1), found["kind"]
        column = min(self.column, self.columns - 1)
        if found["plain"] is not None:
            {"M": self.up, "D": self.down}.get(found["plain"], lambda: None)()
        elif kind is None or kind == "m" or found["private"] or kind in "hl":
            pass
        elif kind in "Hf":
            self.row = min(count - 1, self.rows - 1)
            self.column = min(max((numbers + [1])[1], 1) - 1, self.columns - 1)
        elif kind == "A":
            self.row = max(self.row - count, 0)
        elif kind == "B":
            self.row = min(self.row + count, self.rows - 1)
        elif kind == "C":
            self.column = min(column + count, self.columns - 1)
        elif kind == "D":
            self.column = max(column - count, 0)
        elif kind == "K":
            self.erase(self.row, *((column, self.columns), (0, column + 1), (0, self.columns))[numbers[0]])
        elif kind == "J":
            self.erase(self.row, *((column, self.columns), (0, column + 1), (0, self.columns))[numbers[0]])
            for row in (range(self.row + 1, self.rows), range(self.row), range(self.rows))[numbers[0]]:
                self.erase(row, 0, self.columns)
        elif kind == "r":
            self.top, self.bottom = count - 1, (numbers + [0])[1] - 1 if len(numbers) > 1 and numbers[1] else self.rows - 1
            self.row = self.column = 0
        else:
            raise ValueError(f"unknown sequence {found.group()!r}")
