"""What a person does on the screens, as keys: short words for the walks. Nothing here uses a mouse."""

from __future__ import annotations

import re

from bench_job import PASSPHRASE

RECORD = (
    ("has no material", "material of", "S275"),
    ("has no thickness", "thickness of", "12 mm"),
    ("has no process", "process of", "laser"),
    ("has no quantity", "quantity of", "1"),
)
NOTES = {"width": "200 mm", "height": "100 mm"}  # what the tape said


def enroll(window, person):
    """From the table of parts to the people, one more of them, and back."""
    window.press("P")
    window.wait("people and policy", "enrolls a person")
    window.press("n")
    window.answer(
        "name and roles of the person", f"{person}: drawn, checked, approved", f"enroll {person} as"
    )
    window.press("Tab")
    window.press("Enter")
    window.wait("type it again")
    window.write(PASSPHRASE)
    window.press("Enter")
    window.wait_below("type it again")
    window.write(PASSPHRASE)
    window.press("Enter")
    done = f"{person} enrolled"
    window.wait_for(lambda seen: "type it again" not in seen and (done in seen or "passphrase of" in seen))
    if done not in window.flat():  # the keeper signs for everybody but the first
        window.write(PASSPHRASE)
        window.press("Enter")
    window.wait(done)
    window.press("Escape")
    window.wait("rev state fix")


def record_plate(window, number, file, known="0 GO"):
    """From the table of parts: a new part, its drawing, its record, its bolt holes and two key dimensions."""
    window.press("n")
    window.answer("new part", f"{number} cut Plate", f"{number} A", known, gone=("checking", "recording"))
    window.press("Up")  # the part that stops most is on top
    window.press("Enter")
    window.wait(f"{number} A (open)", "in no connection")
    window.press("t")
    window.answer("DXF file of", file, gone=("has no drawing", "taking", "reading"))
    window.press("Down")
    for missing, title, text in RECORD:
        window.press("Enter")
        window.answer(title, text, gone=(missing,))
    window.press("g")
    window.answer("hole group of", "bolts = H1 H2 H3 H4", gone=("recording",))
    for name, nominal in NOTES.items():
        window.press("k")
        window.answer("key dimension of", f"{name} = {nominal} ±0.3, on {name}", gone=("recording",))


def record_connection(window, line):
    """On the part screen: a connection in one line."""
    window.press("c")
    window.answer("new connection of", line, gone=("in no connection", "recording"))


def back_to_parts(window):
    window.press("Escape")
    window.wait("rev state fix", "GO, ", gone=("checking", "reading"))


def mark_both(window):
    """On the table of two parts: both of them in the set, once they stand in the order of their verdicts."""
    window.wait_for(lambda seen: 0 <= seen.find("BASE A ") < seen.find("TURN A "))
    window.press("Up", "Space", "Down", "Space")
    window.wait("● BASE", "● TURN")


def sign_alone(window, person):
    """On the sign screen: as checker, alone, with two key dimensions typed again."""
    window.wait(f"{person} signs as drawn")
    window.press("Down")
    window.press("Enter")
    seen = []
    for _ in range(2):
        window.wait("measured again or from notes", gone=seen)
        title = re.search(r"\S+/\S+, measured again or from notes", window.flat())[
            0
        ]  # what is behind shows beside it
        assert "200" not in window.text(), "what is stored stays hidden"
        name = title.partition(",")[0]
        seen.append(title)
        window.write(NOTES[name.rpartition("/")[2]])
        window.press("Enter")
    window.wait(f"{person} signs as checked:", gone=seen)
    confirm_and_sign(window, person, "checked")


def confirm_and_sign(window, person, role):
    window.press("Tab")
    window.press("Enter")
    done = f"{person} signed as {role}"
    if window.wait_for_one_of(done, f"passphrase of {person}") != done:  # it is asked for once a sitting
        window.answer(f"passphrase of {person}", PASSPHRASE, done)


def to_the_lock(window, person, expected):
    """On the lock screen: the person under the cursor, how many parts there are; the folder is there already."""
    window.wait(f"{person} locks", gone=("checking",))
    window.press("Enter")
    many = len(expected.split(","))
    window.answer(f"to lock {many} parts, type {many}", str(many), "folder for the packet")
