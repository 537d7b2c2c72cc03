"""Asking and answering what is still to be decided about a part, and how questions hang together."""

from __future__ import annotations

from tui.question_lines import LINK_HINT, QUESTION_HINT, link_line, link_words, question_line
from tui.recording import Editor, words_wanted


class QuestionEditor(Editor):
    """The verbs of a part's questions."""

    def answer(self, ident: str) -> None:
        """Answer a question."""
        own = {q.ident: q.text for q in self.part.questions} if self.part else {}
        number, name = self.number, ident
        if ident not in own and "/" in ident:  # of another part, which it blocks this one from
            number, _, name = ident.rpartition("/")
        asked = own.get(ident, "")

        def take(text: str) -> None:
            self._do("questions", "AnswerQuestion", number=number, ident=name, answer=text)

        hint = "say what was decided; k on its row says what it blocks and what it waits for"
        self.screen.enter(f"{ident}: {asked}", words_wanted("an answer"), take, hint=hint)

    def question(self) -> None:
        """Ask something; it stops the part until it is answered."""
        asked = {q.ident for q in self.part.questions} if self.part else set()
        ident = next(f"Q{n}" for n in range(1, len(asked) + 2) if f"Q{n}" not in asked)

        def take(text: str) -> None:
            self._do(
                "questions", "AskQuestion", number=self.number, ident=ident, **question_line(text).fields
            )

        title = f"question {ident} about {self.number}"
        self.screen.enter(title, lambda t: question_line(t).reading, take, hint=QUESTION_HINT)

    def links(self, ident: str) -> None:
        """What a question blocks, what it waits for and its day, written anew."""
        asked = {q.ident: q for q in self.part.questions} if self.part else {}
        old = asked.get(ident)
        if old is None:
            self.screen.tell("put the cursor on a question: k says what it blocks and what it waits for")
            return

        def take(text: str) -> None:
            self._do("questions", "LinkQuestion", number=self.number, ident=ident, **link_line(text).fields)

        title = f"{ident} of {self.number}: what does it block, and what does it wait for?"
        self.screen.enter(title, lambda t: link_line(t).reading, take, value=link_words(old), hint=LINK_HINT)
