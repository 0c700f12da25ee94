"""Relates the parts of a scene file to each other: names, materials, builds, the room."""

from __future__ import annotations

import functools
from collections.abc import Iterable, Mapping
from pathlib import Path
from types import MappingProxyType

from treatment.air import Air
from treatment.bands import frozen
from treatment.errors import Finding, MaterialError, TreatmentError
from treatment.geometry.polygon import Polygon
from treatment.materials.build import Layer, PanelBuild
from treatment.materials.builds import load_builds
from treatment.materials.data_sheets import read_data_sheets
from treatment.materials.fit_stock import fit_builds
from treatment.materials.library import Library, make_material
from treatment.materials.make_build import make_build
from treatment.materials.material import Material
from treatment.materials.sheet import PerforatedSheet
from treatment.materials.stock import Stock, stock_for
from treatment.scene.checks import TARGET_USES
from treatment.scene.codes import finding, nearest
from treatment.scene.document import Document
from treatment.scene.fit_structure import fit_structure
from treatment.scene.fittings import Fitted, fit_obstacles, fit_rectangles
from treatment.scene.furnish import furnish
from treatment.scene.limits import make_limits
from treatment.scene.model import (
    Budget,
    KeepOut,
    Opening,
    Scene,
    Seat,
    Subwoofer,
    Surface,
)
from treatment.scene.outline import Shell, make_shell
from treatment.scene.plan_entries import LimitsEntry, StockEntry
from treatment.scene.radiation import make_loudspeakers
from treatment.scene.recesses import fit_recesses
from treatment.scene.schema import (
    AirEntry,
    BudgetEntry,
    BuildEntry,
    KeepOutEntry,
    LoudspeakerEntry,
    MaterialEntry,
    ObjectEntry,
    ObstacleEntry,
    OpeningEntry,
    RecessEntry,
    SeatEntry,
    SubwooferEntry,
    TargetEntry,
    WishesEntry,
)
from treatment.scene.screen import make_screen
from treatment.scene.trade import load_prices, make_stock

#: Kinds of things that are told apart by one set of names in results.
_NAME_GROUPS = (
    ("openings", "obstacles", "recesses"),
    ("loudspeakers", "subwoofers"),
    ("seats",),
    ("objects",),
    ("keep_outs",),
)


def assemble(
    document: Document, library: Library, path: Path | None = None
) -> tuple[Scene | None, dict[str, list[int]], list[Finding]]:
    """Make a scene.

    Parameters
    ----------
    document : Document
        What the file says.
    library : Library
        The shipped materials.
    path : pathlib.Path, optional
        The file.

    Returns
    -------
    scene : Scene or None
        None when there is no room to speak of. With an error among the findings it is fit for
        further checks only: what does not fit has been left out.
    numbering : dict of str to list of int
        Index in the file of each loudspeaker, subwoofer, seat, opening and keep-out of the scene.
    findings : list of Finding
        What is wrong or worth knowing.
    """
    findings: list[Finding] = []
    library = _with_data_sheets(document, library, path, findings)
    maker = _Maker(document, library, findings)
    unit = document.units or "m"
    shell = None
    if document.room is not None and document.units is not None:
        shell, found = make_shell(document.room, unit, path.parent if path else None)
        findings += found
    if shell is not None:
        shell, found = fit_recesses(shell, dict(document.entries("recesses", RecessEntry)), unit)
        findings += found
    maker.check_names(shell)
    trade = document.table("stock", StockEntry)
    stock = make_stock(trade, unit, findings)
    builds, unasked = maker.builds(stock or stock_for(unit))
    budget, target = document.table("budget", BudgetEntry), document.table("target", TargetEntry)
    wishes = document.table("wishes", WishesEntry)
    use = target.use if target else TARGET_USES[0]
    if use not in TARGET_USES:
        message = f'"{use[:40]}" has no published range here'
        findings.append(finding("target-use-unknown", "target.use", message, nearest(use, TARGET_USES)))
    if shell is None:
        maker.check_references()
        return None, {}, findings
    fitted, found = fit_obstacles(shell, dict(document.entries("obstacles", ObstacleEntry)), unit)
    findings += found
    speakers = dict(document.entries("loudspeakers", LoudspeakerEntry))
    subs = dict(document.entries("subwoofers", SubwooferEntry))
    seats = dict(document.entries("seats", SeatEntry))
    openings, keep_outs = maker.openings(shell, fitted, unit), maker.keep_outs(shell, fitted, unit)
    surfaces, objects = maker.surfaces(shell, fitted), dict(document.entries("objects", ObjectEntry))
    framing, grids, walkways, found = fit_structure(document, surfaces, unit)
    findings += found
    kinds = {s.name: s.kind for s in surfaces if not s.obstacle}
    scene = Scene(
        title=document.title or (path.stem if path else "untitled"),
        shape=document.room.shape if document.room else "box",
        units=unit,
        air=maker.air,
        enclosure=fitted.enclosure,
        surfaces=surfaces,
        openings=tuple(openings.values()),
        keep_outs=tuple(keep_outs.values()),
        loudspeakers=make_loudspeakers(speakers, findings),
        subwoofers=tuple(Subwoofer(e.name, frozen(e.position)) for e in subs.values()),
        seats=tuple(Seat(e.name, frozen(e.position), e.spread, e.weight, e.occupied) for e in seats.values()),
        builds=builds,
        budget=Budget(budget.amount, budget.currency) if budget else None,
        target_use=use,
        path=path,
        objects=furnish(objects, seats, maker.library, surfaces, fitted.enclosure.volume, findings, unit),
        framing=framing,
        tile_grids=grids,
        walkways=walkways,
        screen=make_screen(document, shell, fitted, unit, findings),
        keep_side_reflections=bool(wishes and wishes.keep_side_reflections),
        limits=make_limits(document.table("limits", LimitsEntry), kinds, builds, findings, unit),
        stock=stock,
        prices=load_prices(trade, path.parent if path else Path(), findings),
        unasked_builds=unasked,
        recesses=shell.recesses,
    )
    numbering = {
        "openings": list(openings),
        "keep_outs": list(keep_outs),
        "loudspeakers": list(speakers),
        "subwoofers": list(subs),
        "seats": list(seats),
    }
    return scene, numbering, findings


def _surface_of_room(shell: Shell, name: str, polygon: Polygon, material: Material) -> Surface:
    """A surface of the room's own, which may be a face of a recess."""
    face = shell.faces.get(name)
    if face is None:
        return Surface(name, polygon, material)
    return Surface(name, polygon, material, recess=shell.recesses[face.recess].name, continues=face.continues)


def _with_data_sheets(
    document: Document, library: Library, path: Path | None, findings: list[Finding]
) -> Library:
    """Add the materials of one's own folder of data sheets."""
    if document.data_sheets is None:
        return library
    folder = (path.parent if path else Path()) / document.data_sheets
    found: list[Finding] = []
    sheets = read_data_sheets(folder, found)
    findings += [finding("data-sheet", "data_sheets", f"{f.where}: {f.message}", f.hint) for f in found]
    try:
        return library.extended(sheets, where=str(folder)).widened()
    except MaterialError as error:
        findings.append(finding("data-sheet", "data_sheets", error.message, error.hint))
        return library


@functools.lru_cache(maxsize=4)
def _shipped_builds(library: Library, air: Air) -> tuple[PanelBuild, ...]:
    """Shipped builds in one state of the air: their prediction takes longer than all the rest."""
    return load_builds(library, air)


class _Maker:
    """Makes the parts of one scene; collects findings as it goes."""

    def __init__(self, document: Document, library: Library, findings: list[Finding]) -> None:
        self.document = document
        self.found = findings
        self.shipped = library
        self.air = self._air()
        self.library = self._with_own_materials(library)
        # Stands in for a material that is not known, so that the rest can still be checked.
        self.placeholder = make_material("unknown", [0.1] * 8, source="placeholder")

    def _add(self, code: str, where: str, message: str, hint: str = "") -> None:
        self.found.append(finding(code, where, message, hint))

    def _air(self) -> Air:
        entry = self.document.table("air", AirEntry)
        if entry is None:
            return Air()
        values = entry.model_dump()
        for key, value in values.items():
            try:
                Air(**{key: value})
            except TreatmentError as error:
                self._add("air-out-of-range", error.where, error.message, error.hint)
                return Air()
        return Air(**values)

    def _with_own_materials(self, library: Library) -> Library:
        own = {}
        for key, entry in self.document.by_id("materials", MaterialEntry).items():
            where = f"materials.{key}"
            if key in library.materials:
                message = f'"{key}" is a shipped material; the one of this file is used instead'
                self._add("replaces-shipped", where, message, "choose another name to have both")
            own[key] = make_material(
                key,
                entry.absorption,
                source=entry.source if entry.source.strip() else "scene file, no source given",
                description=entry.description,
                scattering=entry.scattering,
                where=where,
            )
        return Library(MappingProxyType({**library.materials, **own}), library.objects)

    def material(self, name: str, where: str) -> Material:
        """Material of a name, or the placeholder and a finding."""
        try:
            return self.library.get(name)
        except MaterialError as error:
            # An own material with an error of its own is known all the same.
            if name not in self.document.own_materials:
                self._add("unknown-material", where, error.message, error.hint)
            return self.placeholder

    def opening_material(self, i: int, entry: OpeningEntry) -> Material:
        """Material of an opening, or what a given absorption makes of it."""
        where = f"openings[{i}]"
        if entry.material is not None and entry.absorption is None:
            return self.material(entry.material, f"{where}.material")
        if entry.absorption is None or entry.material is not None:
            has = "both a material and" if entry.material else "neither a material nor"
            message = f'"{entry.name}" has {has} an absorption'
            hint = 'write material = "door-solid-wood", or absorption = 0.8 for a way into another space'
            self._add("opening-material-unclear", where, message, hint)
            return self.placeholder
        return make_material(
            f"beyond-{entry.name}",
            entry.absorption,
            source="scene file",
            description=f"space beyond {entry.name}",
            category="opening",
            where=where,
        )

    def check_names(self, shell: Shell | None) -> None:
        """Report names that do not tell things apart."""
        of_room: dict[str, str] = {}
        for name in shell.names if shell else ():
            if name.casefold() in of_room:
                message = f'two surfaces are called "{name}"'
                self._add("duplicate-name", "room.names", message, "rename one; floor and ceiling are taken")
            of_room[name.casefold()] = "a surface of the room"
        for group in _NAME_GROUPS:
            # A reflection is named after the surface, opening or obstacle it comes from.
            taken = dict(of_room) if "openings" in group else {}
            for section in group:
                for index, name in self._named(section):
                    place = f"{section}[{index}]"
                    first = taken.setdefault(name.casefold(), place)
                    if first != place:
                        message, hint = f'"{name}" is the name of {first} already', "rename one of the two"
                        self._add("duplicate-name", f"{place}.name", message, hint)

    def _named(self, section: str) -> Iterable[tuple[int, str]]:
        for index, entry in self.document.lists.get(section, {}).items():
            yield index, str(getattr(entry, "name", ""))

    def check_references(self) -> None:
        """Look up the materials of a file whose room cannot be made."""
        for name, material in self.document.surfaces.items():
            self.material(material, f"surfaces.{name}")
        for i, opening in self.document.entries("openings", OpeningEntry):
            self.opening_material(i, opening)
        for i, obstacle in self.document.entries("obstacles", ObstacleEntry):
            self.material(obstacle.material, f"obstacles[{i}].material")
        for i, recess in self.document.entries("recesses", RecessEntry):
            if recess.material is not None:
                self.material(recess.material, f"recesses[{i}].material")

    def surfaces(self, shell: Shell, fitted: Fitted) -> tuple[Surface, ...]:
        """Surfaces with their materials, parallel to the enclosure's polygons."""
        given = self.document.surfaces
        known = dict.fromkeys((*shell.names, *shell.closed, *filter(None, shell.groups)))
        for name in given:
            if name != "default" and name not in known and name not in shell.missing:
                message, hint = f'the room has no surface "{name[:60]}"', nearest(name, known)
                self._add("unknown-surface", f"surfaces.{name}", message, hint)
        found = {n: self.material(m, f"surfaces.{n}") for n, m in given.items()}
        groups = dict(zip(shell.names, shell.groups, strict=True)) if shell.groups else {}
        # The surfaces of a group in a mesh have the group's material, unless they have one of their own.
        found |= {n: found[g] for n, g in groups.items() if n not in found and g in found}
        found |= self._of_recesses(shell, found)
        bare = [n for n in shell.names if n not in found and "default" not in given]
        if bare:
            more = f" and {len(bare) - 12} more" if len(bare) > 12 else ""
            message = f"no material for {', '.join(bare[:12])}{more}"
            self._add("surface-without-material", "surfaces", message, "name one for each, or a default")
        of_obstacle = {
            i: self.material(e.material, f"obstacles[{i}].material")
            for i, e in self.document.entries("obstacles", ObstacleEntry)
        }
        default = found.get("default", self.placeholder)
        return tuple(
            _surface_of_room(shell, name, polygon, found.get(name, default))
            if owner is None
            else Surface(name, polygon, of_obstacle[owner], obstacle=name)
            for polygon, name, owner in zip(
                fitted.enclosure.polygons, fitted.names, fitted.obstacles, strict=True
            )
        )

    def _of_recesses(self, shell: Shell, found: Mapping[str, Material]) -> dict[str, Material]:
        """Materials of the faces of recesses that have none of their own.

        A face that goes on with a surface is made like it, the others like the recess says, else like the
        surface that the recess is in.
        """
        entries = dict(self.document.entries("recesses", RecessEntry))
        given = {
            i: self.material(e.material, f"recesses[{i}].material") for i, e in entries.items() if e.material
        }
        made: dict[str, Material] = {}
        for name, face in shell.faces.items():
            like = made.get(face.like) or found.get(face.like)
            own = like if face.continues else given.get(face.entry, like)
            if name not in found and own is not None:
                made[name] = own
        return made

    def openings(self, shell: Shell, fitted: Fitted, unit: str) -> dict[int, Opening]:
        """Put the openings on their surfaces, by index in the file."""
        entries = dict(self.document.entries("openings", OpeningEntry))
        placed, found = fit_rectangles("openings", entries, shell, fitted, unit)
        self.found += found
        made = {i: self.opening_material(i, e) for i, e in entries.items()}
        return {i: Opening(entries[i].name, s, r, made[i]) for i, (s, r) in placed.items()}

    def keep_outs(self, shell: Shell, fitted: Fitted, unit: str) -> dict[int, KeepOut]:
        """Put the keep-outs on their surfaces, by index in the file."""
        entries = dict(self.document.entries("keep_outs", KeepOutEntry))
        placed, found = fit_rectangles("keep_outs", entries, shell, fitted, unit)
        self.found += found
        return {
            i: KeepOut(entries[i].name, s, r, entries[i].depth, entries[i].reason)
            for i, (s, r) in placed.items()
        }

    def builds(self, stock: Stock) -> tuple[tuple[PanelBuild, ...], tuple[PanelBuild, ...]]:
        """Panels that may be built: own and shipped ones, or those of the list `panels`; the unasked rest."""
        known: dict[str, PanelBuild] = {b.id: b for b in _shipped_builds(self.shipped, self.air)}
        own: Mapping[str, BuildEntry] = self.document.by_id("builds", BuildEntry)
        for key, entry in own.items():
            if key in known:
                message = f'"{key}" is a shipped build; the one of this file is used instead'
                self._add("replaces-shipped", f"builds.{key}", message, "choose another name to have both")
            values = entry.model_dump(exclude={"layers", "material", "perforated"})
            face = entry.perforated
            sheet = PerforatedSheet(**face.model_dump()) if face else None
            layers = [
                Layer(x.airflow_resistivity, x.thickness, density=x.density) for x in entry.layers or ()
            ]
            try:
                known[key] = make_build(
                    key,
                    library=self.library,
                    layers=layers,
                    sheet=sheet,
                    material=entry.material or "",
                    air=self.air,
                    price_note="scene file",
                    where=f"builds.{key}",
                    **values,
                )
            except MaterialError as error:
                self._add("build-invalid", f"builds.{key}", error.message, error.hint)
        stated = frozenset(own)
        known = {b.id: b for b in fit_builds(tuple(known.values()), stock, stated)}
        chosen = self.document.panels
        if chosen is None:
            unasked = tuple(
                b for b in known.values() if b.id not in own and (b.sheet or not b.can_be_asked_for)
            )
            return tuple(b for b in known.values() if b not in unasked), unasked
        for i, name in chosen.items():
            if name not in known and name not in self.document.own_builds:
                message = f'there is no build "{name[:60]}"'
                self._add("unknown-build", f"panels[{i}]", message, nearest(name, known))
        return tuple(known[n] for n in dict.fromkeys(chosen.values()) if n in known), ()
