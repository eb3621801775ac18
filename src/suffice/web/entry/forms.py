"""One form for each kind of entry; each reads what was written into a fact of the record."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Any, ClassVar, Final, NamedTuple, cast
from uuid import UUID, uuid4

import msgspec
from django import forms
from django.utils.translation import gettext_lazy as _

from suffice.clinical import entry as domain
from suffice.clinical.entry.field import Kind, Listed, fields_of
from suffice.errors import Problem
from suffice.language.terms import flag_name, term_name, terms_of
from suffice.web.entry.made import form_fields, form_name, made_fact, words, written_fact
from suffice.web.entry.set_out import SetOutForm
from suffice.web.fields.choices import FlagField
from suffice.web.fields.moment import MomentField
from suffice.web.fields.spoken import goes_together
from suffice.web.shown.people import the_parent
from suffice.web.shown.wording import as_heading, in_clinics_words, in_words

KNOWN_HOW = frozenset({"basis", "device"})
SELDOM = {
    "weight": frozenset({"feed_state"}),
    "test weight": frozenset({"minutes", "side"}),
    "temperature": frozenset({"site"}),
    "watched feed": frozenset({"events"}),
    "plan": frozenset(name for name in domain.Plan.__struct_fields__ if "proposed" in name),
}
"""Kind to those of its fields that stand folded below the others."""


class OpenFlag(NamedTuple):
    """A flag that is open: whose, its code, and what it is called there."""

    infant_id: UUID | None
    code: str
    name: str


class EntryForm(SetOutForm):
    """What every kind of entry asks: whose it is, when it was true, how it is known.

    `made` is the kind of fact; its declaration says what else is asked.
    """

    made: ClassVar[type[domain.Fact]]
    title: ClassVar[Any]

    entry_id = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(
        self,
        *args: Any,
        infants: Sequence[tuple[UUID, str]] = (),
        devices: Sequence[str] = (),
        flags: Sequence[OpenFlag] = (),
        corrects: domain.Fact | None = None,
        **options: Any,
    ) -> None:
        """A form for one family.

        Args:
            *args: As Django's forms.
            infants: Whose fact it may be, with their names.
            devices: Scales and devices to offer.
            flags: What is flagged now, to choose from.
            corrects: The fact that is corrected: whose it is is known then, the infant given or
                the parent, and what no form asks is kept.
            **options: As Django's forms, and the policy and the content.
        """
        given = options.pop("initial", None) or {}
        initial = {"entry_id": uuid4(), "basis": self.declared.basis} | given
        super().__init__(*args, initial=initial, **options)
        self.devices = devices
        self.corrects = corrects
        self._flags = flags
        self._offer_flags(str(initial.get("flag") or ""))
        own = list(self.fields)
        choices = [(str(infant_id), name) for infant_id, name in infants]
        self._only_infant = ""
        if corrects is not None:
            self._only_infant = choices[0][0] if choices else ""
        elif self.declared.about != "parent":
            if self.declared.about == "either":
                choices.append(("parent", the_parent(self.policy.parent_word)))
            if len(choices) > 1:
                self.fields["infant"] = forms.ChoiceField(
                    choices=choices,
                    label=_("About"),
                    widget=forms.RadioSelect,
                    # Whose fever it is must be said: a wrong guess would calm the other one.
                    initial="parent" if self.declared.is_of_family else None,
                )
                own.insert(0, "infant")
            elif choices:
                self._only_infant = choices[0][0]
        self.fields["when"] = MomentField(
            label=words(self.declared.when) if self.declared.when else _("When")
        )
        self.fields["basis"] = forms.ChoiceField(
            choices=[
                ("measured", _("Measured")),
                ("observed", _("Observed")),
                ("reported", _("Reported to me")),
            ],
            label=_("How is it known?"),
            widget=forms.RadioSelect,
        )
        if self.declared.device:
            self.fields["device"] = forms.CharField(
                label=words(self.declared.device),
                required=False,
                max_length=80,
                widget=forms.TextInput(
                    {"list": "devices", "class": "short", "autocomplete": "off"}
                ),
            )
        self.order_fields([*own, "when", "basis", "device"])
        self.focus_first()

    def _offer_flags(self, asked: str) -> None:
        """Offer the flags that are open, the one that was asked for, and that of what is corrected."""
        field = self.fields.get("flag")
        if not isinstance(field, FlagField):
            return
        offered = {flag.code: flag.name for flag in reversed(self._flags)}
        for code in (asked, getattr(self.corrects, "flag", None)):
            if code and code not in offered:
                offered[code] = as_heading(flag_name(code))
        field.offer([(code, offered[code]) for code in reversed(offered)])

    def _check_flag(self, cleaned: dict[str, Any]) -> None:
        """A flag that is open is handed over, or answered, of the one whose it is."""
        own = {flag.infant_id for flag in self._flags if flag.code == cleaned.get("flag")}
        if own and not self.errors and self.corrects is None and self.infant_id not in own:
            self.add_error(
                "flag",
                goes_together(
                    _("This is flagged of somebody else of the family."),
                    _("Say of whom, or choose what is flagged of that one."),
                ),
            )

    def is_seldom(self, name: str) -> bool:
        """Whether a field stands folded: how it is known, the device, and what is rarely asked."""
        return name in KNOWN_HOW or name in SELDOM.get(self.kind, ())

    @property
    def declared(self) -> Kind:
        """What is declared of the kind."""
        return self.made.declared

    @property
    def kind(self) -> str:
        """The name of the kind."""
        return domain.kind_of(self.made)

    def clean(self) -> dict[str, Any]:
        """Of some kinds one field of several is needed."""
        cleaned = super().clean()
        needs = self.declared.needs
        if needs and not self.errors:
            names = [form_name(one) for one in needs.fields]
            if all(self.given(name) is None for name in names):
                self.add_error(names[0], goes_together(in_words(needs.why), in_words(needs.fix)))
        self._check_flag(cleaned)
        return cleaned

    @property
    def infant_id(self) -> UUID | None:
        """Whose fact it is; None for the parent."""
        chosen = self.cleaned_data.get("infant") or self._only_infant
        return UUID(chosen) if chosen and chosen != "parent" else None

    def fact(self) -> domain.AnyFact:
        """The fact that was written. The form must be valid."""
        kept = {"zone": self.policy.zone}
        if self.corrects is not None:
            kept = msgspec.structs.asdict(self.corrects)
        return cast("domain.AnyFact", made_fact(self.made, self.given, kept))

    def show(self, problem: Problem, field: str) -> None:
        """Show a problem at the form's own name of a fact's field."""
        last = field.rpartition(".")[2]
        super().show(problem, form_name(last))

    def entry(self, *, now: datetime, actor: str) -> domain.Entry:
        """The entry that was written. The form must be valid.

        Args:
            now: The instant of entering.
            actor: User who enters it.
        """
        return domain.Entry(
            id=self.cleaned_data["entry_id"],
            fact=self.fact(),
            basis=domain.Basis(self.cleaned_data["basis"]),
            true_at=self.cleaned_data["when"],
            entered_at=now,
            entered_by=actor,
            infant_id=self.infant_id,
            device=self.cleaned_data.get("device") or None,
        )

    def given(self, name: str) -> Any:
        """A field's value, None when it was not asked or left empty."""
        value = self.cleaned_data.get(name)
        return None if value in ("", None) else value

    @classmethod
    def written(cls, fact: domain.Fact, write: Callable[[str, Any], Any]) -> dict[str, Any]:
        """What to put into the fields for a fact that is to be corrected.

        Args:
            fact: The fact in force.
            write: A function of (quantity, value) that writes it so that it is read again exactly.
        """
        return written_fact(fact, write)


class CountedForm(EntryForm):
    """Something that is counted: one now, or so many over so many hours."""

    def clean(self) -> dict[str, Any]:
        """A count other than one belongs to a span of hours."""
        cleaned = super().clean()
        was_so = self.corrects is not None and getattr(self.corrects, "over_h", 0) is None
        is_open = cleaned.get("count") != 1 and cleaned.get("over_h") is None
        if is_open and not was_so and not self.errors:
            self.add_error(
                "over_h",
                goes_together(
                    _("A count other than 1 belongs to a span of hours."),
                    _("Over how many hours were they counted?"),
                ),
            )
        return cleaned


class ListedForm(EntryForm):
    """Something of a vocabulary, which says itself whether it is the infant's or the parent's."""

    def __init__(
        self, *args: Any, infants: Sequence[tuple[UUID, str]] = (), **options: Any
    ) -> None:
        super().__init__(*args, infants=infants, **options)
        self._listed = next(
            (form_name(name), field)
            for name, field in fields_of(self.made).items()
            if isinstance(field, Listed)
        )
        if "infant" in self.fields and len(infants) > 1:
            asked = cast("forms.ChoiceField", self.fields["infant"])
            asked.choices = [(str(infant_id), called) for infant_id, called in infants]
            asked.required, asked.initial, asked.label = False, None, _("Which infant")
            asked.help_text = in_clinics_words(_("Leave it open for something of the parent"))
        elif "infant" in self.fields:
            del self.fields["infant"]
            self._only_infant = str(infants[0][0]) if infants else ""
        self._keep(self.corrects)

        self.chosen_term = ""
        if not self.is_bound and self.corrects is None:
            self._take_as_chosen()

    def _take_as_chosen(self) -> None:
        """What was tapped on another page is not asked again."""
        name, field = self._listed
        key = str(self.initial.get(name, ""))
        if key in terms_of(field.vocabulary):
            self.chosen_term = as_heading(term_name(field.vocabulary, key))
            self.fields[name].widget = forms.HiddenInput()

    def _keep(self, corrects: domain.Fact | None) -> None:
        """Offer what is corrected, too, where the content no longer knows it."""
        name, field = self._listed
        key = getattr(corrects, name, "")
        if key and key not in terms_of(field.vocabulary):
            asked: Any = self.fields[name]
            asked.choices = [(key, in_words(term_name(field.vocabulary, key))), *asked.choices]

    @property
    def _about(self) -> str:
        """Whose the chosen word is: 'infant', 'parent', or '' where nothing says it."""
        name, field = self._listed
        term = terms_of(field.vocabulary).get(self.cleaned_data.get(name, ""))
        return "" if term is None else term.about

    @property
    def infant_id(self) -> UUID | None:
        """Whose fact it is; None for the parent."""
        return None if self._about == "parent" and self.corrects is None else super().infant_id

    def clean(self) -> dict[str, Any]:
        """The word and whose it is said to be must agree."""
        cleaned = super().clean()
        name, _field = self._listed
        has_infant = bool(cleaned.get("infant") or self._only_infant)
        is_chosen = bool(cleaned.get("infant")) or self.corrects is not None
        if self._about == "infant" and not has_infant:
            place = "infant" if "infant" in self.fields else name
            self.add_error(
                place,
                goes_together(_("This is something of an infant."), _("Say of which infant.")),
            )
        elif self._about == "parent" and has_infant and is_chosen:
            self.add_error(
                "infant" if "infant" in self.fields else name,
                goes_together(
                    in_clinics_words(
                        _("This is something of the parent, and an infant is chosen.")
                    ),
                    _("Choose one that fits, or enter it on its own."),
                ),
            )
        return cleaned


def form_of(kind: type[domain.Fact]) -> type[EntryForm]:
    """The form of a kind, made from its declaration."""
    base = CountedForm if "over_h" in kind.__struct_fields__ else EntryForm
    if any(isinstance(field, Listed) for field in fields_of(kind).values()):
        base = ListedForm
    return type(
        f"{kind.__name__}Form",
        (base,),
        {"made": kind, "title": words(kind.declared.title), **form_fields(kind)},
    )


FIRST = (
    "weight",
    "feed",
    "feed count",
    "test weight",
    "wet",
    "stool",
    "expression",
    "temperature",
    "contact",
)
"""The kinds that are entered most often, in the order in which they are offered."""


def _offered() -> list[type[domain.Fact]]:
    rest = [name for name in domain.KINDS if name not in (*FIRST, "withdrawal")]
    return [domain.KINDS[name] for name in (*FIRST, *rest)]


FORMS: dict[str, type[EntryForm]] = {
    domain.kind_of(kind).replace(" ", "-"): form_of(kind) for kind in _offered()
}
"""Every kind that can be entered with its form, by its name in an address."""
BY_ITS_PAGE: Final = frozenset(
    {"latch-photograph", "signed-note", "amendment", "paper-given", "milk-moved"}
)
"""Kinds that only a page of their own can enter; a form corrects them."""
