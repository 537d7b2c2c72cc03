"""Asking and answering what is still to be decided about a part, and how questions hang together."""

from __future__ import annotations

from ledger.words.forms import LINKS, QUESTION
from ledger.words.questions import link_line, link_words, next_ident, question_line
from tui.part_editor import Editor, words_expected


class QuestionEditor(Editor):
    """The verbs of a part's questions."""

    def answer(self, ident: str) -> None:
        """Answer a question."""
        own = {q.ident: q.text for q in self.part.questions} if self.part else {}
        number, name = self.number, ident
        if ident not in own and "/" in ident:  # of another part, which it holds up this one from
            number, _, name = ident.rpartition("/")
        asked = own.get(ident, "")

        def take(text: str) -> None:
            self._do("AnswerQuestion", number=number, ident=name, answer=text)

        hint = "enter what was decided; H on its row: what it holds up and depends on"
        self.ask(f"{ident}: {asked}", words_expected("an answer"), take, hint=hint)

    def question(self) -> None:
        """Ask something; it stops the part until it is answered."""
        ident = next_ident(q.ident for q in self.part.questions) if self.part else "Q1"

        def take(text: str) -> None:
            self._do("AskQuestion", number=self.number, ident=ident, **question_line(text).fields)

        title = f"question {ident} about {self.number}"
        self.ask(title, lambda t: question_line(t).reading, take, hint=QUESTION.hint)

    def evidence(self, ident: str) -> None:
        """Keep a file with the part, or with one of its questions."""
        address, screen = f"{self.number}/{ident}" if ident else self.number, self.screen

        def take(text: str) -> None:
            def keep() -> None:
                from ledger.files import evidence_files

                files = evidence_files([text.strip()])
                screen.job.keep_evidence(address, files, by=screen.fitup.workstation)

            self._work(keep)

        hint = "path of a photograph, a PDF or another file; it is kept in the job by its bytes"
        self.ask(f"evidence for {address}", words_expected("the path of a file"), take, hint=hint)

    def links(self, ident: str) -> None:
        """What a question holds up, what it depends on and its day, replaced."""
        asked = {q.ident: q for q in self.part.questions} if self.part else {}
        old = asked.get(ident)
        if old is None:
            self.screen.tell("put the cursor on a question, then press H: what it holds up and depends on")
            return

        def take(text: str) -> None:
            self._do("LinkQuestion", number=self.number, ident=ident, **link_line(text).fields)

        title = f"{ident} of {self.number}: what it holds up and depends on"
        self.ask(title, lambda t: link_line(t).reading, take, value=link_words(old), hint=LINKS.hint)
