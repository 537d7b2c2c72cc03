"""What is out and what came back: orders, pieces, the schedule, vendors, and the hardware that connections need."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, ClassVar

from rich.text import Text
from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.widgets import OptionList
from textual.widgets.option_list import Option

from ledger.domain.errors import BadInput
from ledger.domain.file_names import stem
from ledger.domain.plural import counted
from ledger.domain.recall import MOST_AT_ONCE, NOT_LOOKED
from ledger.words.forms import HARDWARE, ORDER, PIECE, RECEIPT, SCHEDULE, VENDOR
from ledger.words.hardware import hardware_line, hardware_words
from ledger.words.orders import by_urgency, order_line, receipt_line
from ledger.words.pieces import piece_line
from ledger.words.schedule import part_words, schedule_line
from ledger.words.vendors import vendor_line, vendor_words
from tui.actions import bindings
from tui.choice_window import Choose
from tui.frame import JobScreen
from tui.part_editor import do, words_expected
from tui.signs import said, tone
from tui.ways_screen import file_line, path_of

if TYPE_CHECKING:
    from ledger.domain.needed import HardwareList, Needed
    from ledger.domain.order import Order
    from ledger.domain.recall import Recall
    from ledger.domain.schedule import Schedule
    from ledger.domain.vendor import Vendor
    from ledger.words.as_built import Inspected, PieceFound

Row = tuple[Text, Callable[[], None] | None]  # what is shown, and what Enter does; nothing for a heading


@dataclass(frozen=True, slots=True)
class _Out:
    """All that the screen shows."""

    day: str
    orders: tuple[Order, ...]
    pieces: tuple[Inspected, ...]
    recalls: tuple[Recall, ...] | None
    schedule: Schedule
    vendors: tuple[Vendor, ...]
    hardware: HardwareList


class OrdersScreen(JobScreen):
    """
    What is recalled, then what is out, overdue orders first; pieces that came back; when parts must go out; vendors and
    hardware. Enter does the next thing with a row.
    """

    WHERE = "orders"
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(WHERE)]
    DEFAULT_CSS = "OrdersScreen OptionList { height: 1fr; text-wrap: nowrap; text-overflow: ellipsis; }"

    def __init__(self) -> None:
        super().__init__()
        self._day = ""
        self._rows: tuple[Row, ...] = ()

    def body(self) -> ComposeResult:
        yield OptionList(markup=False)

    def on_mount(self) -> None:
        self.head("orders, pieces, schedule, vendors and hardware")
        self.query_one(OptionList).focus()

    def refreshed(self) -> None:
        job = self.job

        def work() -> _Out:
            came = dict.fromkeys(piece.part for piece in job.pieces())
            pieces = tuple(job.inspected(number) for number in came)
            return _Out(
                job.day,
                job.orders(),
                pieces,
                job.recalls(MOST_AT_ONCE),
                job.schedule(),
                job.vendors(),
                job.hardware(),
            )

        self.ask(work, self._show, busy="counting")

    def action_open(self) -> None:
        """The next thing with the row under the cursor."""
        at = self.query_one(OptionList).highlighted
        does = self._rows[at][1] if at is not None and at < len(self._rows) else None
        if does:
            does()

    @on(OptionList.OptionSelected)
    def row_selected(self) -> None:
        self.action_open()

    def action_new(self) -> None:
        """An order of locked parts."""

        def take(text: str) -> None:
            fields, by = order_line(text).fields, self.fitup.workstation
            work = lambda: self.job.record_order(by=by, **fields)  # noqa: E731 - one call
            self.ask(work, self.recorded, busy="recording", group="change")

        self.enter("order to a vendor", lambda t: order_line(t).reading, take, hint=ORDER.hint)

    def action_write(self) -> None:
        """The hardware list as a file."""

        def take(text: str) -> None:
            path = path_of(text)
            kind = path.suffix.lower().removeprefix(".")

            def work() -> str:
                from ledger.files import write_whole

                write_whole(path, self.job.hardware_paper(kind))
                return f"hardware list: {path.absolute()}"

            self.ask(work, self.tell, busy="writing", group="change")

        self.enter("hardware list (.csv or .pdf): to which file?", file_line, take, value="hardware.csv")

    def whole_row(self) -> str:
        """The row under the cursor, nothing of it cut."""
        at = self.query_one(OptionList).highlighted
        return self._rows[at][0].plain.strip() if at is not None and at < len(self._rows) else ""

    def _show(self, out: _Out) -> None:
        self._day = out.day
        self._rows = (
            *self._recalls(out.recalls), *self._orders(out.orders), *self._pieces(out.pieces),
            *self._schedule(out.schedule), *self._vendors(out.vendors), *self._hardware(out.hardware),
        )  # fmt: skip
        listed = self.query_one(OptionList)
        at = listed.highlighted or 1
        listed.clear_options()
        listed.add_options([Option(text, disabled=does is None) for text, does in self._rows])
        listed.highlighted = min(at, len(self._rows) - 1)

    def _recalls(self, recalls: tuple[Recall, ...] | None) -> Iterator[Row]:
        if recalls is None:
            yield _heading(NOT_LOOKED)
            return
        if recalls:
            yield _heading(f"recalled {len(recalls)}")
        for one in recalls:
            text = Text(f"{self.signs.warning} ", tone(self.app, "warning")).append_text(said(one.words))
            yield text, partial(self._part, one.part)

    def _pieces(self, found: tuple[Inspected, ...]) -> Iterator[Row]:
        if found:
            yield _heading(f"pieces {sum(len(one.pieces) for one in found)}")
        for one in found:
            for piece in one.pieces:
                text = said(f"  {piece.piece.name}  ", "bold").append(piece.verdict)
                told = next((f.words for f in piece.fits if f.fits is False), "") or next(
                    (d.words for d in piece.dimensions if d.acceptance.rejectable), ""
                )
                yield text.append_text(said(f"  {told}")), partial(self._piece, piece)
            for place in one.places:
                yield said(f"  {place.words}"), partial(self._connection, place.connection)
            words = f"  inspection sheet of {one.part}"
            yield said(words), partial(self._sheet, one.part)

    def _schedule(self, found: Schedule) -> Iterator[Row]:
        yield _heading(f"everything here by {found.day}" if found.day else "schedule")
        yield (
            said("  change the day of the job" if found.day else "  enter the day of the job"),
            partial(self._planned, f"by {found.day or found.all_here or found.today}"),
        )
        for part in found.parts:
            after = f"; after {', '.join(part.waits)}" if part.waits and part.state != "here" else ""
            text = said(f"  {part.part}  ", "bold").append_text(said(f"{part_words(part)}{after}"))
            if part.late:
                text.stylize(tone(self.app, "warning"))
            yield text, partial(self._planned, f"{part.part} after ")

    def _orders(self, orders: tuple[Order, ...]) -> Iterator[Row]:
        yield _heading(f"orders {len(orders)}")
        for order in by_urgency(orders):
            late = order.overdue(self._day)
            text = Text(f"{self.signs.warning} " if late else "  ", tone(self.app, "warning") if late else "")
            text.append_text(said(f"{order.ident} to {order.vendor}: ", "bold"))
            text.append(order.state(self._day), tone(self.app, "warning") if late else "")
            text.append_text(said(f"  {', '.join(line.words for line in order.lines)}"))
            yield text, partial(self._order, order)
        if not orders:
            yield said("  none sent yet; n records one"), self.action_new

    def _vendors(self, vendors: tuple[Vendor, ...]) -> Iterator[Row]:
        yield _heading(f"vendors {len(vendors)}")
        for vendor in vendors:
            line = vendor_words(vendor)
            yield said(f"  {line}"), partial(self._vendor, line)
        yield said("  record another vendor" if vendors else "  record a vendor"), partial(self._vendor, "")

    def _hardware(self, hardware: HardwareList) -> Iterator[Row]:
        missing = sum(line.to_buy for line in hardware.lines)
        yield _heading(f"hardware to buy {missing}")
        for line in hardware.lines:
            yield said(f"{line.to_buy:>6}  {hardware_words(line)}"), partial(self._on_hand, line)
        for part in hardware.bought:
            count = "?" if part.quantity is None else str(part.quantity)
            yield (
                said(f"{count:>6}  {part.number}: {part.title} (bought part)"),
                partial(self._part, part.number),
            )
        for one in hardware.not_counted:
            yield said(f"  not counted: {one.words}"), partial(self._connection, one.connection)
        yield said("  record what is on hand"), partial(self._on_hand, None)

    def _order(self, order: Order) -> None:
        """What can be done with an order."""
        ways: dict[str, tuple[str, Callable[[], None]]] = {}
        if order.missing:
            ways["receive"] = "receive pieces", partial(self._receive, order)
        if not order.canceled:
            ways["write"] = "write its drawings, sheets and papers to a folder", partial(self._write, order)
        if order.missing:
            ways["cancel"] = "cancel it", partial(self._cancel, order)
        if not ways:
            self.tell(f"order {order.ident} is {order.state(self._day)}")
            return
        shown = {name: words for name, (words, _) in ways.items()}

        def chosen(way: str | None) -> None:
            if way is not None:
                ways[way][1]()

        self.window(Choose(f"{order.ident}: {order.state(self._day)}", shown), chosen)

    def _receive(self, order: Order) -> None:
        def take(text: str) -> None:
            fields, by = receipt_line(text).fields, self.fitup.workstation
            work = lambda: self.job.record_receipt(by=by, **fields)  # noqa: E731 - one call
            self.ask(work, self.recorded, busy="recording", group="change")

        left = ", ".join(f"{line.part} {line.quantity}" for line in order.missing)
        title = f"pieces of order {order.ident} that came back"
        value = f"{order.ident}: {left}"
        self.enter(title, lambda t: receipt_line(t).reading, take, value=value, hint=RECEIPT.hint)

    def _write(self, order: Order) -> None:
        def take(text: str) -> None:
            folder = path_of(text)

            def work() -> str:
                names = self.job.write_order(order.ident, folder)
                return f"{counted(len(names), 'file')} in {folder.absolute()}"

            self.ask(work, self.tell, busy="writing", group="change")

        def read(text: str) -> str:
            folder = path_of(text)
            if folder.exists():
                raise BadInput(f"{folder} exists already; name a new folder")
            return f"a new folder, {folder.absolute()}"

        value = f"order-{stem(order.ident, otherwise='1')}"
        self.enter(f"order {order.ident}: to which new folder?", read, take, value=value)

    def _cancel(self, order: Order) -> None:
        def take(text: str) -> None:
            do(self, "CancelOrder", ident=order.ident, reason=text.strip())

        self.enter(f"why is order {order.ident} canceled?", words_expected("a reason"), take)

    def _planned(self, value: str) -> None:
        def take(text: str) -> None:
            fields = dict(schedule_line(text).fields)
            do(self, fields.pop("act"), **fields)

        title = "day of the job, or what a part waits on"
        self.enter(title, lambda t: schedule_line(t).reading, take, value=value, hint=SCHEDULE.hint)

    def _piece(self, found: PieceFound) -> None:
        """What was measured of a piece; what it fits is told above the line."""

        def take(text: str) -> None:
            do(self, "MeasurePiece", **piece_line(text).fields)

        piece = found.piece
        value = f"{piece.name}: "
        told = "; ".join(f.words for f in found.fits)
        title = f"measured of {piece.name} ({told})" if told else f"measured of {piece.name}"
        self.enter(title, lambda t: piece_line(t).reading, take, value=value, hint=PIECE.hint)

    def _sheet(self, number: str) -> None:
        def take(text: str) -> None:
            path = path_of(text)

            def work() -> str:
                from ledger.files import write_whole

                write_whole(path, self.job.inspection_sheet(number))
                return f"inspection sheet: {path.absolute()}"

            self.ask(work, self.tell, busy="writing", group="change")

        value = f"{stem(number, otherwise='part')}-inspection.pdf"
        self.enter(f"inspection sheet of {number} (PDF): to which file?", file_line, take, value=value)

    def _vendor(self, value: str) -> None:
        def take(text: str) -> None:
            do(self, "RecordVendor", **vendor_line(text).fields)

        self.enter("vendor", lambda t: vendor_line(t).reading, take, value=value, hint=VENDOR.hint)

    def _on_hand(self, line: Needed | None) -> None:
        def take(text: str) -> None:
            do(self, "RecordOnHand", **hardware_line(text).fields)

        value = f"{line.on_hand or line.count} {line.name}" if line else ""
        self.enter("on hand", lambda t: hardware_line(t).reading, take, value=value, hint=HARDWARE.hint)

    def _part(self, number: str) -> None:
        from tui.part_screen import PartScreen

        self.app.push_screen(PartScreen(number))

    def _connection(self, name: str) -> None:
        from tui.connection_screen import ConnectionScreen

        self.app.push_screen(ConnectionScreen(name))


def _heading(words: str) -> Row:
    return said(words, "bold underline"), None
