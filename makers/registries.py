"""How a lower world shows what a higher one knows.

Each world fills these in its ``AppConfig.ready()``; the house walks them. An entry is a frozen dataclass of a
name, an order and a typed callable, so nothing here imports a higher world.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Generic, Protocol, TypeVar

if TYPE_CHECKING:
    from django.db.models import Model

    from makers.actions.by import By
    from makers.models import Code, Maker


class Named(Protocol):
    """What every entry has."""

    @property
    def name(self) -> str: ...

    @property
    def order(self) -> int: ...


EntryT = TypeVar("EntryT", bound=Named)


class Registry(Generic[EntryT]):
    """An ordered set of entries, each name once."""

    def __init__(self, title: str) -> None:
        self.title = title
        self._entries: dict[str, EntryT] = {}

    def add(self, entry: EntryT) -> None:
        """Add an entry. Raises ValueError when the name is taken by another."""
        known = self._entries.get(entry.name)
        if known is not None and known != entry:
            raise ValueError(f"{self.title} already has an entry named {entry.name!r}.")
        self._entries[entry.name] = entry

    def __iter__(self) -> Iterator[EntryT]:
        return iter(sorted(self._entries.values(), key=lambda entry: (entry.order, entry.name)))

    def __contains__(self, name: object) -> bool:
        return name in self._entries

    def __getitem__(self, name: str) -> EntryT:
        return self._entries[name]


@dataclass(frozen=True, slots=True)
class TodayItem:
    """One thing that needs a hand. ``mark`` is a status word's key; ``soon`` puts it under Now."""

    mark: str
    word: str
    text: str
    url: str
    figure: str = ""
    figure_note: str = ""
    act: str = ""
    act_url: str = ""
    now: bool = False
    order: int = 50


@dataclass(frozen=True, slots=True)
class TodaySource:
    """Lists what needs a hand. The callable makes a constant number of queries."""

    name: str
    order: int
    items: Callable[[Maker, Any], Sequence[TodayItem]]  # the second argument is the maker's local date


@dataclass(frozen=True, slots=True)
class Found:
    """One search hit."""

    title: str
    url: str
    kind: str
    code: str = ""
    detail: str = ""


@dataclass(frozen=True, slots=True)
class SearchSource:
    """Searches one kind of record by words; codes are resolved by the code kinds."""

    name: str
    order: int
    find: Callable[[Maker, str, int], Sequence[Found]]


@dataclass(frozen=True, slots=True)
class CodeKind:
    """A series of human codes. ``pattern`` takes ``year`` (two digits) and ``number``."""

    name: str
    order: int
    title: str
    pattern: str
    url: Callable[[Maker, Code], str]


@dataclass(frozen=True, slots=True)
class NavigationPlace:
    """One of the main places. ``view`` is a URL name that takes the maker's slug."""

    name: str
    order: int
    title: str
    view: str
    within: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class RecordPanel:
    """What another world adds to a record's page: returns a template name and its context, or None."""

    name: str
    order: int
    model: str
    panel: Callable[[Maker, Model], tuple[str, dict[str, Any]] | None]


@dataclass(frozen=True, slots=True)
class ChangeEffect:
    """What a change that is only supposed yet would do to another world's records; nothing is stored.

    The callable takes what is supposed (``formulas.assembly.Supposed``) and the formulas that it reaches
    (``formulas.whereused.Reach``). It returns a template name and its context, or None where nothing would change.
    """

    name: str
    order: int
    effect: Callable[[Maker, Any, Any], tuple[str, dict[str, Any]] | None]


@dataclass(frozen=True, slots=True)
class ReviewCheck:
    """A question that the review of a formula asks; returns findings of formulas.rules.

    The callable takes the version and what is known of it (``formulas.actions.formulas.Seen``). title: as the
    review lists the question when it passes; "" leaves it out of that list. ``passes`` takes what is known of the
    version and what was found: whether there was something to look at and nothing found goes against the title.
    """

    name: str
    order: int
    findings: Callable[[Model, Any], Sequence[Any]]
    title: str = ""
    passes: Callable[[Any, Sequence[Any]], bool] = lambda _, found: not found


@dataclass(frozen=True, slots=True)
class OpenPoint:
    """Something that stands in the way of a release. ``blocks`` means no reason can wave it through."""

    name: str
    text: str
    blocks: bool
    url: str = ""


@dataclass(frozen=True, slots=True)
class ReleaseCheck:
    """A question that the release of a batch asks."""

    name: str
    order: int
    points: Callable[[Model], Sequence[OpenPoint]]


@dataclass(frozen=True, slots=True)
class ExportTable:
    """One model in the full export, in the order in which it can be loaded again."""

    name: str
    order: int
    model: str


@dataclass(frozen=True, slots=True)
class Fault:
    """What a record check found."""

    where: str
    text: str


@dataclass(frozen=True, slots=True)
class RecordCheck:
    """Verifies records of one maker, read-only; ``check_records`` runs them all."""

    name: str
    order: int
    faults: Callable[[Maker], Sequence[Fault]]


@dataclass(frozen=True, slots=True)
class DemoChapter:
    """A part of the demo, built through the same actions as the screens. ``say`` reports progress."""

    name: str
    order: int
    build: Callable[[By, dict[str, Any], Callable[[str], None]], None]


@dataclass(frozen=True, slots=True)
class StockSource:
    """How much of each ingredient is here: keys of ingredients to grams, in few queries.

    ``amounts``: all that is on hand. ``free``: what may be used today; the low-stock level is held against it.
    """

    name: str
    order: int
    amounts: Callable[[Maker, Sequence[int]], dict[int, Any]]
    free: Callable[[Maker, Sequence[int]], dict[int, Any]] | None = None


@dataclass(frozen=True, slots=True)
class PageLink:
    """A link that another world puts on a page of this one. ``page`` and ``view`` are URL names."""

    name: str
    order: int
    page: str
    title: str
    view: str


@dataclass(frozen=True, slots=True)
class OpeningHook:
    """What a world sets up when a maker opens its book."""

    name: str
    order: int
    run: Callable[[By], None]


@dataclass(frozen=True, slots=True)
class FirstStep:
    """What a new maker does next; shown on Today until ``done``."""

    name: str
    order: int
    text: str
    view: str
    done: Callable[[Maker], bool]


@dataclass(frozen=True, slots=True)
class JournalKind:
    """A kind of journal entry. ``sentence`` takes {subject} and the names in the entry's change."""

    name: str
    sentence: str
    order: int = field(default=0)


today_items: Registry[TodaySource] = Registry("today_items")
search_sources: Registry[SearchSource] = Registry("search_sources")
code_kinds: Registry[CodeKind] = Registry("code_kinds")
navigation: Registry[NavigationPlace] = Registry("navigation")
record_panels: Registry[RecordPanel] = Registry("record_panels")
change_effects: Registry[ChangeEffect] = Registry("change_effects")
review_checks: Registry[ReviewCheck] = Registry("review_checks")
release_checks: Registry[ReleaseCheck] = Registry("release_checks")
export_tables: Registry[ExportTable] = Registry("export_tables")
record_checks: Registry[RecordCheck] = Registry("record_checks")
demo_chapters: Registry[DemoChapter] = Registry("demo_chapters")
ingredient_stock: Registry[StockSource] = Registry("ingredient_stock")
page_links: Registry[PageLink] = Registry("page_links")
opening_hooks: Registry[OpeningHook] = Registry("opening_hooks")
first_steps: Registry[FirstStep] = Registry("first_steps")
journal_kinds: Registry[JournalKind] = Registry("journal_kinds")


def panels_for(maker: Maker, record: Model) -> list[tuple[str, dict[str, Any]]]:
    """The panels that other worlds add to a record's page, in order."""
    label = record._meta.label_lower
    found = (entry.panel(maker, record) for entry in record_panels if entry.model == label)
    return [panel for panel in found if panel is not None]
