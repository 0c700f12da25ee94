"""What the window shows and how it answers, without a toolkit: state, gaze, cards and what was clicked."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np

from treatment.planning.plan import Evaluation, Placement
from treatment.planning.wall_zones import wall_zones
from treatment.present.camera import Camera, hides_room
from treatment.present.drawables import room_shapes
from treatment.present.forms import Face, Label
from treatment.present.native.card import Card
from treatment.present.native.choices import choices_of, middle_seat
from treatment.present.native.gaze import Gaze, moved, saved_gaze, turned, zoomed
from treatment.present.native.labels import Placed, pixels_of, place_labels
from treatment.present.native.layers import names_picture, with_cards
from treatment.present.native.notes import help_card, legend_card, note_card, reading_card
from treatment.present.native.paint import Pixels
from treatment.present.native.paths import PathLines, path_lines
from treatment.present.native.picking import targets_of, thing_at
from treatment.present.native.reading import path_key, read_thing
from treatment.present.native.side import HEIGHT, WIDTH, side_card
from treatment.present.native.state import ALL, ViewState, changed, first_state
from treatment.present.native.steps import Steps
from treatment.present.native.times import RaysHere
from treatment.present.native.zones import chosen_zones, zone_band, zone_faces, zones_at
from treatment.present.ray_times import RayTimes
from treatment.present.svg import Box
from treatment.scene.model import Scene
from treatment.units import format_length

_TURN: Final = {"left": (-6.0, 0.0), "right": (6.0, 0.0), "up": (0.0, 6.0), "down": (0.0, -6.0)}
_MOVE: Final = {"left": (-30.0, 0.0), "right": (30.0, 0.0), "up": (0.0, -30.0), "down": (0.0, 30.0)}
_GAP: Final = 14.0
#: How far a drag turns the room, degrees for each unit of the screen.
_DRAG: Final = 0.35


class Desk:
    """One room, seen.

    Parameters
    ----------
    scene : Scene
        The room.
    placements : sequence of Placement
        All panels, in the order of their benefit; none for a room without a plan.
    steps : Steps
        Where evaluations come from.
    size : tuple of int
        Of the window, pixels.
    state : ViewState, optional
        What is chosen at first.
    rays : sequence of RayTimes
        Traced times of the room as it is and, behind them, with all panels; empty where no rays were sent.
    """

    def __init__(
        self,
        scene: Scene,
        placements: Sequence[Placement],
        steps: Steps,
        size: tuple[int, int],
        state: ViewState | None = None,
        rays: Sequence[RayTimes] = (),
    ) -> None:
        self.rays = tuple(rays)
        self.scene, self.placements, self.steps = scene, tuple(placements), steps
        self.choices = choices_of(scene, placements)
        self.middle_seat = middle_seat(scene)
        self.state = first_state(self.choices, self.middle_seat) if state is None else state
        self.shapes = room_shapes(scene, placements, lambda m: format_length(m, scene.units))
        self.targets = targets_of(self.shapes.faces)
        self.zones = wall_zones(scene)
        self.size = size
        self.note = ""
        self.gaze = self._saved(self.state.view)
        self._kept: dict[str, tuple[Any, Any]] = {}

    # --- what is there -------------------------------------------------------------------------

    @property
    def unit(self) -> float:
        """Pixels to a unit of the cards."""
        return max(min(self.size[1] / HEIGHT, self.size[0] / 1250.0), 0.6)

    @property
    def view_size(self) -> tuple[int, int]:
        """Width and height of the room's picture, left of the card, pixels."""
        return max(self.size[0] - round(WIDTH * self.unit), 100), self.size[1]

    @property
    def camera(self) -> Camera:
        """From where the room is seen."""
        return self.gaze.camera(self.view_size)

    @property
    def before(self) -> Evaluation | None:
        """The room as it is."""
        return self.steps.get(0)

    @property
    def now(self) -> Evaluation | None:
        """The room with the panels that hang; None while it is being worked out."""
        return self.steps.get(self.state.step)

    def _once(self, name: str, key: Any, make: Any) -> Any:
        """Keep what was made until what it depends on changes."""
        if name not in self._kept or self._kept[name][0] != key:
            self._kept[name] = (key, make())
        return self._kept[name][1]

    def lines(self) -> PathLines | None:
        """Paths of the step that is shown, None while they are being worked out."""
        s, now = self.state, self.now
        if now is None:
            return None
        key = (now, s.loudspeaker, s.seat, s.order, s.band, s.colouring, s.strong)
        found: PathLines = self._once("lines", key, lambda: path_lines(now, s))
        return found

    def zone_areas(self) -> tuple[Face, ...]:
        """Zones of the chosen loudspeaker and seat.

        Returns
        -------
        tuple of Face
            Group ``reach``, then ``zone``, the same object for the same choice; empty while they are hidden.
        """
        s = self.state
        if not s.zones:
            return ()
        band = zone_band(s)

        def faces(group: str) -> tuple[Face, ...]:
            return zone_faces(self.scene, chosen_zones(self.zones, s), band, (group,))

        whom = (s.loudspeaker, s.seat)
        reach = self._once("reach", (whom, band), lambda: faces("reach"))
        zone = self._once("zone", whom, lambda: faces("zone"))
        found: tuple[Face, ...] = self._once("zones", (reach, zone), lambda: reach + zone)
        return found

    def shown(self, thing: Any) -> bool:
        """Whether a face, dot or label is shown.

        Parameters
        ----------
        thing : Face, Dot or Label
            Part of the shapes.

        Returns
        -------
        bool
            False for panels of later steps, for kept-free spaces that are switched off, for the own head.
        """
        name = thing.text if isinstance(thing, Label) else thing.name
        if thing.group == "panel":
            return name in self.choices.panels[: self.state.step]
        if thing.group == "keep-out":
            return self.state.keep_free
        if thing.group == "seat" and self.gaze.inside:
            return name != self.scene.seats[self._eye_seat()].name
        return True

    # --- actions -------------------------------------------------------------------------------

    def act(self, action: str) -> None:
        """Take an action.

        Parameters
        ----------
        action : str
            As in `state.changed`; also ``turn:``, ``move:``, ``zoom:`` and ``home``.
        """
        self.note = ""
        name, _, value = action.partition(":")
        if name == "turn":
            self.gaze = turned(self.gaze, *_TURN[value])
        elif name == "move":
            right, down = (self.unit * x for x in _MOVE[value])
            self.gaze = moved(self.gaze, right, down, self.size[1])
        elif name == "zoom":
            self.gaze = zoomed(self.gaze, 0.88 if value == "in" else 1.0 / 0.88)
        else:
            seat = self.state.seat
            self.state = changed(self.state, self.choices, action)
            moved_seat = self.state.view == "seat" and self.gaze.inside and self.state.seat != seat
            if name in ("view", "home") or moved_seat:
                self.gaze = self._saved(self.state.view)

    def drag(self, right: float, down: float, *, move: bool = False) -> None:
        """Drag the picture.

        Parameters
        ----------
        right, down : float
            In pixels.
        move : bool
            True moves, False turns.
        """
        if move:
            self.gaze = moved(self.gaze, right, down, self.size[1])
        else:
            degrees = _DRAG / self.unit * (0.4 if self.gaze.inside else 1.0)
            self.gaze = turned(self.gaze, degrees * right, -degrees * down)

    def zoom(self, factor: float) -> None:
        """Come nearer or step back.

        Parameters
        ----------
        factor : float
            Of the distance.
        """
        self.gaze = zoomed(self.gaze, factor)

    def resize(self, size: tuple[int, int]) -> None:
        """Take another size of the window.

        Parameters
        ----------
        size : tuple of int
            Pixels.
        """
        self.size = size

    def click(self, x: float, y: float) -> str:
        """What a click means.

        Parameters
        ----------
        x, y : float
            Pixel from the upper left corner of the window.

        Returns
        -------
        str
            An action, empty for none; it is not taken yet.
        """
        view = self.view_size[0]
        if x >= view:
            return self.side().action_at(x - view, y)
        for card, (left, top) in reversed(self.cards()):
            if left <= x < left + card.size[0] and top <= y < top + card.size[1]:
                return card.action_at(x - left, y - top)
        return self._pick(x, y)

    def _pick(self, x: float, y: float) -> str:
        """Thing under a pixel of the room's picture, as an action."""
        lines, camera = self.lines(), self.camera
        shown = np.array([self.shown(f) for f in self.shapes.faces], dtype=bool)
        solid = np.array([self._is_solid(f) for f in self.shapes.faces], dtype=bool)
        dots = [d for d in self.shapes.dots if self.shown(d)]
        points = None if lines is None else lines.points
        found = thing_at(camera, (x, y), self.targets, shown, solid, dots, points)
        if (found.kind, found.name) == self.state.picked:
            # A second click looks through what can be seen through.
            own = np.array([(f.group, f.name) == self.state.picked for f in self.shapes.faces], dtype=bool)
            found = thing_at(camera, (x, y), self.targets, shown & (solid | ~own), solid, dots, points)
        if found.line is not None and lines is not None and self.now is not None:
            return f"pick:path:{path_key(self.now, int(lines.arrival[found.line]))}"
        if found.point is not None and self.state.zones:
            held = zones_at(self.scene, chosen_zones(self.zones, self.state), found.point)
            if held:
                return "pick:zone:" + ",".join(str(self.zones.index(z)) for z in held)
        return f"pick:{found.kind}:{found.name}" if found.kind else "pick:"

    def _is_solid(self, face: Face) -> bool:
        if face.group == "panel":
            return self.gaze.inside or not hides_room(face, self.camera.position)
        return face.group != "keep-out"

    # --- cards ---------------------------------------------------------------------------------

    def side(self) -> Card:
        """The card beside the room."""
        size = (self.size[0] - self.view_size[0], self.size[1])
        key = (size, self.state, self.before, self.now, self.steps.missing)
        made: Card = self._once(
            "side",
            key,
            lambda: side_card(
                size, self.unit, self.scene, self.placements, self.choices, self.state, self.before, self.now,
                self.steps.missing, self.rays_here(),
            ),
        )  # fmt: skip
        return made

    def rays_here(self) -> RaysHere:
        """Traced times of the room as it is, and of the step that is shown.

        Returns
        -------
        RaysHere
            Of a step between before and after none: rays are sent for these two only.
        """
        if not self.rays:
            return RaysHere()
        last = self.state.step == len(self.placements) > 0
        return RaysHere(self.rays[0], self.rays[-1] if last else None, self.state.step == 0 or last)

    def cards(self) -> tuple[tuple[Card, tuple[int, int]], ...]:
        """Cards over the room, each with its upper left corner in pixels; later ones lie on top."""
        key = (self.size, self.state, self.now, self.before, self.note)
        made: tuple[tuple[Card, tuple[int, int]], ...] = self._once("cards", key, self._lay_cards)
        return made

    def _lay_cards(self) -> tuple[tuple[Card, tuple[int, int]], ...]:
        unit, (width, height) = self.unit, self.view_size
        gap = round(_GAP * unit)
        lines = self.lines()
        legend = legend_card(
            unit,
            sorted(self._groups()),
            self.state,
            len(lines.arrival) if lines else 0,
            zone_band(self.state),
        )
        laid = [(legend, (gap, height - legend.size[1] - gap))]
        reading = read_thing(
            self.state.picked, self.shapes, self.scene, self.now, self.before, self.zones, self.state.band
        )
        if reading:
            laid.append((reading_card(unit, reading, min(0.7 * height / unit, 300.0)), (gap, gap)))
        if self.note:
            note = note_card(unit, self.note)
            laid.append((note, ((width - note.size[0]) // 2, gap)))
        if self.state.help:
            card = help_card(unit)
            laid.append((card, (max((width - card.size[0]) // 2, 0), max((height - card.size[1]) // 2, 0))))
        return tuple(laid)

    def _groups(self) -> set[str]:
        """What is seen, for the legend."""
        groups = {f.group for f in self.shapes.faces if self.shown(f)} | {f.group for f in self.zone_areas()}
        groups |= {"seat" for _ in self.scene.seats}
        groups |= {"loudspeaker" for _ in self.scene.loudspeakers} | {
            "subwoofer" for _ in self.scene.subwoofers
        }
        return groups

    def overlay(self) -> Pixels:
        """Cards and names over the room: shape (rows, columns, 4), uint8, first row on top."""
        key = (self.size, self.state, self._gaze_key(), self.now, self.before, self.note)
        made: Pixels = self._once("overlay", key, self._paint_overlay)
        return made

    def _paint_overlay(self) -> Pixels:
        cards = self.cards()
        placed: tuple[Placed, ...] = ()
        if self.state.names:
            taken: tuple[Box, ...] = tuple((x, y, x + c.size[0], y + c.size[1]) for c, (x, y) in cards)
            hung = self.state.step, self._eye_seat() if self.gaze.inside else ALL, self.state.keep_free
            key = (self.size, self._gaze_key(), hung, taken)
            placed = self._once("names", key, lambda: self._place_names(taken))
        return with_cards(names_picture(placed, self.view_size, self.unit), cards)

    def _place_names(self, taken: Sequence[Box]) -> tuple[Placed, ...]:
        camera, radius = self.camera, 8.0 * self.unit
        heads = np.array([d.position for d in self.shapes.dots]).reshape(-1, 3)
        on_heads = [
            (x - radius, y - radius, x + radius, y + radius)
            for x, y, depth in pixels_of(camera, heads).tolist()
            if depth > 0.1
        ]
        names = [x for x in self.shapes.labels if self.shown(x) and (x.rank < 5 or not self.gaze.inside)]
        return place_labels(names, camera, self.unit, (*taken, *on_heads))

    def _gaze_key(self) -> tuple[Any, ...]:
        g = self.gaze
        return (*g.focus.tolist(), g.azimuth, g.elevation, g.distance, g.view_angle, g.inside)

    # --- places --------------------------------------------------------------------------------

    def _eye_seat(self) -> int:
        return self.state.seat if self.state.seat != ALL else self.middle_seat

    def _saved(self, view: str) -> Gaze:
        eye = self.scene.seats[self._eye_seat()].position if self.scene.seats else None
        return saved_gaze(view, self.shapes, self.view_size, eye)
