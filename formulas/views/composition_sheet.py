"""Reading a composition from the spreadsheet that a supplier sent: file, columns, rows, then the editor."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods

from formulas.actions.ingredients import add_substance
from formulas.composition_sheets import ReadRow, as_parts, judge, look_up, together
from formulas.forms.composition_sheet import ColumnsForm, SheetForm, SheetRowForm
from formulas.models import Ingredient, Substance
from formulas.rules.composition import Shares, substance_key
from formulas.rules.composition_sheet import SheetRow, guess, look_like_fractions, read_rows
from formulas.rules.interval import Interval
from formulas.rules.number import exact_sum
from formulas.substances import known_substances, names_of
from formulas.views.compositions import MOST_ROWS, CompositionPage
from formulas.views.ingredient_pages import fetch, trail_of
from makers.forms.refusals import show_refusal
from makers.http import MakerRequest, address
from makers.rules.display import units

FIGURES = ("low", "typical", "high")


@dataclass
class Shown:
    """A row of the preview with its form."""

    read: ReadRow
    form: SheetRowForm

    @property
    def is_open(self) -> bool:
        """Whether something is to be answered."""
        return bool(self.read.problems or (self.form.is_bound and self.form.errors))


class SheetPage:
    """The page: the file's rows, the columns, and what each row comes to."""

    def __init__(self, request: MakerRequest, row: Ingredient) -> None:
        self.request, self.ingredient = request, row
        self.form = SheetForm(
            request.POST if request.method == "POST" else None, request.FILES or None, maker=request.maker
        )
        self.known = known_substances(request.maker)
        self.columns: ColumnsForm | None = None
        self.shown: list[Shown] = []
        self.words: list[str] = []
        self.notices: list[str] = []
        self.result: Shares | None = None

    @property
    def wants(self) -> str:
        """What the button said."""
        return self.request.POST.get("do", "read")

    def read(self) -> bool:
        """Read the file or the rows that were sent along; True when there are rows and columns that hold."""
        if self.request.method != "POST" or not self.form.is_valid():
            return False
        rows = self.form.cleaned_data["rows"]
        guessed = guess(rows)
        is_new = bool(self.form.cleaned_data.get("sheet")) or "columns-head" not in self.request.POST
        data = ColumnsForm.guess_of(guessed, self.request.maker.locale) if is_new else self.request.POST
        self.columns = ColumnsForm(data, rows=rows, guessed=guessed, maker=self.request.maker)
        if not self.columns.is_valid():
            return False
        said = self.columns.cleaned_data
        found, self.words = read_rows(
            rows, self.columns.head_row, self.columns.columns,
            locale=self.columns.locale, unit=said["unit"], kind=said["rows_are"],
        )  # fmt: skip
        if not found:
            self.columns.add_error("name", "There is no row below the heads.")
        elif len(found) > MOST_ROWS:
            self.columns.add_error(
                "head",
                f"{len(found)} rows; a composition holds {MOST_ROWS}. Leave out what isn't of this material.",
            )
        else:
            if said["unit"] == "percent" and look_like_fractions(found):
                self.notices.append(
                    "The declared figures make about 1 together. If 0.25 means 25 %, say above: parts of 1."
                )
            self.show(found)
        return bool(self.shown)

    def show(self, found: list[SheetRow]) -> None:
        """Every row with its form: bound where the row still reads as when it was answered."""
        names = names_of(self.request.maker, self.known.values())
        for number, row in enumerate(found):
            meant = look_up(row, names)
            form = self.row_form(number, row, meant)
            self.shown.append(Shown(self.answered(row, meant, form), form))
        judge([one.read for one in self.shown])
        ordered = bool(self.columns and self.columns.cleaned_data["is_ordered"])
        self.result = together([one.read for one in self.shown], self.ingredient.name, ordered=ordered)

    def row_form(self, number: int, row: SheetRow, meant: Any) -> SheetRowForm:
        """The form of one row."""
        prefix = f"row-{number}"
        stands = f"{row.stands}|{row.kind}|{row.figures.low}|{row.figures.typical}|{row.figures.high}"[:4000]
        is_same = self.request.POST.get(f"{prefix}-typed") == stands
        return SheetRowForm(
            self.request.POST if is_same else None,
            prefix=prefix,
            maker=self.request.maker,
            offers=tuple(one.name for one in meant.offers),
            asks_share=bool(row.figures.problem),
            initial={
                "typed": stands,
                "means": meant.sure.name if meant.sure else row.name,
                "kind": row.kind,
                "is_out": row.is_total,
                **{name: getattr(row.figures, name) for name in FIGURES},
            },
        )

    def answered(self, row: SheetRow, meant: Any, form: SheetRowForm) -> ReadRow:
        """What a row means by its cells and by what the maker said of it."""
        if form.is_bound and form.is_valid():
            data = form.cleaned_data
        else:
            data = {name: form.get_initial_for_field(field, name) for name, field in form.fields.items()}
        name = str(data.get("means") or "")
        read = ReadRow(row, meant, self.known.get(substance_key(name)) if name else None, name)
        if not form.is_bound and meant.sure is not None:
            read.substance = self.known.get(meant.sure.key)
        elif not form.is_bound and read.substance is not None and meant.sure is None:
            read.substance = None  # the name alone is known, the CAS number says something else
        read.is_own = bool(data.get("is_own")) and read.substance is None and bool(name)
        read.kind, read.is_out = str(data.get("kind") or ""), bool(data.get("is_out"))
        for figure in FIGURES:
            setattr(read, figure, data.get(figure))
        if row.figures.problem and not read.is_out and not read.is_known and not data.get("is_unknown"):
            read.problems["typical"] = row.figures.problem
        return read

    def is_ready(self) -> bool:
        """Whether every row can go into the editor; says beside each row what is in its way."""
        good = True
        for one in self.shown:
            if one.read.is_out:
                continue
            if not one.form.is_bound and one.read.problems:
                one.form.data = {one.form.add_prefix(key): value for key, value in one.form.initial.items()}
                one.form.is_bound = True
                one.form.full_clean()
            for name, sentence in one.read.problems.items():
                one.form.add_error(name if name in one.form.fields else None, sentence)
            good = good and not (one.form.is_bound and one.form.errors)
        if good and not any(not one.read.is_out for one in self.shown):
            self.form.add_error(None, "Every row is left out.")
            return False
        return good

    def take(self) -> CompositionPage:
        """Add the substances of one's own, and put the rows into the editor. Nothing else is written yet."""
        rows = [one.read for one in self.shown if not one.read.is_out]
        called = self.form.cleaned_data["called"]
        made: dict[str, Substance] = {}
        with transaction.atomic():
            for one in rows:
                if one.is_own and one.key not in made:
                    made[one.key] = add_substance(
                        self.request.by,
                        inci_name=one.name,
                        cas=one.row.cas[:60],
                        function=one.row.function[:80],
                        source=f"written in {called}" if called else "written in a supplier's spreadsheet",
                    )
        page = CompositionPage(self.request, self.ingredient)
        ordered = bool(self.columns and self.columns.cleaned_data["is_ordered"])
        page.start(self.request.GET.get("source", ""))
        page.fill(as_parts(rows, ordered=ordered), origin=called)
        if made:
            messages.success(
                self.request,
                f"{units(len(made), 'substance')} of your own: {', '.join(map(str, made.values()))}."[:400],
            )
        return page

    @property
    def sums(self) -> Interval | None:
        """What the declared rows come to: the least and the most of those whose share is given."""
        rows = [one.read for one in self.shown if not one.read.is_out and one.read.kind == "declared"]
        if not rows:
            return None
        low = exact_sum(
            next((x for x in (one.low, one.typical) if x is not None), Decimal(0)) for one in rows
        )
        tops = [next((x for x in (one.high, one.typical) if x is not None), None) for one in rows]
        return Interval(low, None if None in tops else exact_sum(top for top in tops if top is not None))

    @property
    def open_rows(self) -> int:
        """How many rows wait for an answer."""
        return sum(one.is_open for one in self.shown)


@require_http_methods(["GET", "POST"])
def composition_sheet(request: MakerRequest, code: str) -> HttpResponse:
    """Take the file, ask what its heads don't tell, show every row, then hand all of them to the editor."""
    row = fetch(request, code)
    page = SheetPage(request, row)
    if page.read() and page.wants == "take":
        if page.is_ready():
            try:
                editor = page.take()
            except ValidationError as refusal:
                show_refusal(page.form, refusal)
            else:
                messages.info(
                    request,
                    f"{units(len(editor.filled), 'row')} stand below. Nothing is kept until you write it down.",
                )
                return editor.shown()
        else:
            messages.error(request, "No row is taken yet: what is open stands beside its row.")
    trail = [
        *trail_of(request, row),
        ("Composition", address(request.maker, "formulas:composition-add", code=row.code)),
    ]
    return render(
        request,
        "formulas/composition_sheet.html",
        {
            "page": page,
            "ingredient": row,
            "trail": trail,
            "substances": sorted(one.inci_name for one in page.known.values()),
        },
    )
