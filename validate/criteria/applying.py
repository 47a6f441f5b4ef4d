"""Whether a set applies: intended use, measurand, dates, Horwitz; and bounds nobody asked for."""

from __future__ import annotations

from collections.abc import Mapping

from validate.criteria.asking import Asking, Wish, nearest
from validate.criteria.catalogue import criteria_set, sets
from validate.criteria.coverage import characteristics
from validate.criteria.entries import CriteriaSet, Entry, speaks_of
from validate.protocol.settings import StudySettings
from validate.studies.contract import Study
from validate.vocabulary.finding import FindingKind
from validate.vocabulary.place import Place


def take_set(asking: Asking, name: str, place: Place) -> CriteriaSet | None:
    """The set `name`, counted as used; a problem when the catalogue has none of that name."""
    found = criteria_set(name)
    if found is None:
        asking.refuse("unknown-set", place, name=name, nearest=nearest(name, (each.id for each in sets())))
    elif name not in asking.used:
        asking.used[name] = found
        note_applicability(asking, found, place)
    return found


def use_of(asking: Asking, settings: StudySettings) -> str:
    """What a study is about: its own intended use, else the protocol's."""
    return settings.intended_use or asking.loaded.protocol.intended_use


def clash_of_use(asking: Asking, study: str, finding: FindingKind, place: Place) -> tuple[str, ...]:
    """A notice, and a note for the criterion, where a figure says nothing for the use that the study is about."""
    use = use_of(asking, asking.loaded.protocol.studies[study])
    characteristic = characteristics().get(finding.characteristic)
    if characteristic is None or characteristic.is_for(use):
        return ()
    made_for = " and ".join(characteristic.intended_use)
    values = {"finding": finding.name, "made_for": made_for, "use": use, "study": study}
    asking.refuse("criterion-for-other-use", place, **values)
    return (f"A figure of {made_for} use; this study is about {use} use.",)


def note_applicability(asking: Asking, criteria: CriteriaSet, place: Place) -> None:
    """Notices where the set was made for something else or is not in force at the protocol's date."""
    protocol = asking.loaded.protocol
    name = criteria.id
    uses = {protocol.intended_use, *(use_of(asking, settings) for settings in protocol.studies.values())}
    if criteria.intended_use and not uses & set(criteria.intended_use):
        made_for = " and ".join(criteria.intended_use)
        asking.refuse("set-for-other-use", place, name=name, made_for=made_for, use=protocol.intended_use)
    if not speaks_of(criteria.measurands, asking.method.measurand):
        values = {"title": criteria.title, "measurand": asking.method.measurand}
        asking.refuse("set-for-other-measurand", place, name=name, **values)
    issued = str(protocol.issued)
    if criteria.in_force_until and issued >= criteria.in_force_until:
        replaced = f" (replaced by {criteria.replaced_by})" if criteria.replaced_by else ""
        values = {"until": criteria.in_force_until, "replaced": replaced, "issued": issued}
        asking.refuse("set-repealed", place, name=name, note=criteria.note, **values)
    if criteria.in_force_from and issued < criteria.in_force_from:
        asking.refuse("set-not-yet-in-force", place, name=name, since=criteria.in_force_from, issued=issued)


def caveats(asking: Asking, criteria: CriteriaSet, entry: Entry, wish: Wish) -> tuple[str, ...]:
    """The same clashes as notes that stay with the criterion in the dossier."""
    protocol = asking.loaded.protocol
    notes = []
    use = use_of(asking, wish.settings)
    if criteria.intended_use and use not in criteria.intended_use:
        made_for = " and ".join(criteria.intended_use)
        notes.append(f"Made for {made_for} use; this method is for {use} use.")
    if not speaks_of(criteria.measurands, asking.method.measurand):
        notes.append("The source does not name this measurand.")
    if criteria.in_force_until and str(protocol.issued) >= criteria.in_force_until:
        notes.append(f"In force until {criteria.in_force_until}; the protocol is dated {protocol.issued}.")
    if entry.rests_on_horwitz and asking.method.method_defined:
        asking.refuse("horwitz-on-defined-measurand", wish.place, name=criteria.id, finding=wish.finding.name)
        notes.append("Rests on the Horwitz function, which does not hold for a measurand defined by its method.")
    if "from memory" in (entry.obtained or criteria.obtained):
        notes.append(f"How the figure was obtained: {entry.obtained or criteria.obtained}.")
    return tuple(notes)


def unasked_bounds(asking: Asking, studies: Mapping[str, Study], in_use: Mapping[str, Place]) -> None:
    """A notice for a set in use that bounds a figure which the purpose expects, a study gives and none is held to."""
    protocol = asking.loaded.protocol
    asked = {name for study in studies for name in protocol.studies[study].accept}
    expected = {
        key
        for key, each in characteristics().items()
        if protocol.purpose in each.expected_by and each.is_for(protocol.intended_use)
    }
    given = {f.name for kind in studies.values() for f in kind.findings if f.characteristic in expected}
    for name, place in in_use.items():
        bounded = dict.fromkeys(entry.finding for entry in asking.used[name].entry)
        unasked = [each for each in bounded if each in given - asked and asking.entry(asking.used[name], each)]
        if unasked:
            asking.refuse("set-bound-not-asked", place, name=name, findings=", ".join(unasked))
