"""How each contour is cut: where it starts, how the water reaches it, and what holds its piece."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from functools import cached_property, partial

from kerfwright.foundation.findings import Finding
from kerfwright.planning import feasibility
from kerfwright.planning.alike import SAME_MM, Alike, alike_of
from kerfwright.planning.beside_edge import COARSE_MM, deep_in_stock
from kerfwright.planning.clamps import blocked_start
from kerfwright.planning.coreless import decide_coreless
from kerfwright.planning.flushing import plan_flushing
from kerfwright.planning.flushing_state import FlushingState
from kerfwright.planning.ground import ground_of
from kerfwright.planning.limits import Ground
from kerfwright.planning.memory import Memory
from kerfwright.planning.pieces import piece_of
from kerfwright.planning.placed import Judged, judge, placed_findings
from kerfwright.planning.placed_tab import stand_tab
from kerfwright.planning.plan import ContourPlan, RoughAttendance, Slug, Tab
from kerfwright.planning.rough_attendance import rough_attendance
from kerfwright.planning.rules import PlanningRules
from kerfwright.planning.start_findings import drilled_deep, no_start_finding, site_findings
from kerfwright.planning.starts import Site, Walls, settled_mm, share_out_given
from kerfwright.planning.unroughed import warning_of
from kerfwright.planning.wires import Paths, paths_of
from kerfwright.process.choice import JobPasses
from kerfwright.process.technology import PassChoice, Technology
from kerfwright.trade.part import GivenStart, Part, PartContour, Role
from kerfwright.trade.placement import NOWHERE_PLACED, Placement
from kerfwright.trade.requirement import Requirement


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stood:
    """What a contour's piece is, where start and tab stand, and who is there while it is roughed.

    Attributes
    ----------
    piece : Slug
    ground : Ground
    judged : Judged
    attendance : RoughAttendance
        NONE where no start or tab stands.
    """

    piece: Slug
    ground: Ground
    judged: Judged
    attendance: RoughAttendance


@dataclass(frozen=True, kw_only=True)
class ContourPlanner:
    """Plans the contours of a job one by one, all their passes chosen.

    Attributes
    ----------
    part : Part
    requirement : Requirement
    passes : JobPasses
    walls : Walls
    technology : Technology
    rules : PlanningRules
    memory : Memory
    """

    part: Part
    requirement: Requirement
    passes: JobPasses
    walls: Walls
    technology: Technology
    rules: PlanningRules
    memory: Memory

    def every(self, cuttable: Sequence[Paths]) -> tuple[list[ContourPlan], list[Finding]]:
        """Plan each contour by itself; those without a start are refused.

        Parameters
        ----------
        cuttable : sequence of Paths
            Of the contours that the wire gets round.
        """
        findings: list[Finding] = []
        planned: list[ContourPlan] = []
        for path in cuttable:
            name = path.target.id
            findings += self._corners(path)
            if path.tips is not None:
                findings.append(warning_of(path.target, path.tips, self.passes.of(name)))
            one, said = self.memory.once(
                partial(self._one, path),
                "contour",
                path,
                self._part_key,
                self.requirement.height_mm,
                self.requirement.placement_of(name),
                self.requirement.coreless_on(name),
                name in self.requirement.walls,
                tuple(self.passes.of(c.id).passes[0].offset_mm for c in self._inside.get(name, ())),
            )
            findings += said
            if one is not None:
                # What decides may differ where the passes do not.
                planned.append(replace(one, choice=self.passes.of(name)))
        return planned, findings

    @cached_property
    def _part_key(self) -> object:
        return self.memory.once(object, "part", self.part.contours)

    @cached_property
    def _given(self) -> Mapping[str, tuple[GivenStart, ...]]:
        contours, given = self.part.contours, self.part.given_starts
        make = partial(share_out_given, contours, given)
        return self.memory.once(make, "given", contours, given)

    @cached_property
    def _inside(self) -> Mapping[str, list[PartContour]]:
        """Contours by what is directly around them."""
        found: dict[str, list[PartContour]] = {}
        for c in self.part.contours:
            if c.parent_id is not None:
                found.setdefault(c.parent_id, []).append(c)
        return found

    @cached_property
    def _alike(self) -> Mapping[str, Alike]:
        return alike_of(self.part.contours, self.memory)

    @cached_property
    def _deep(self) -> AbstractSet[str]:
        """Openings whose rough cut surely keeps away from the edge of the stock."""
        reach_mm = self.technology.flushing.nozzle.mouth_radius_mm + COARSE_MM
        return deep_in_stock(self.part.contours, self.walls.stock, depth_mm=reach_mm)

    def _corners(self, path: Paths) -> list[Finding]:
        """Return what is said of the corners that stay rounder than drawn."""
        target, (first, by_mm) = path.target, self._first_of(path)
        choice = self.passes.of(target.id)
        left, radius_mm = first.unreachable, choice.passes[-1].offset_mm
        depths = self.memory.shapes.once(
            partial(feasibility.corner_depths_mm, left, radius_mm=radius_mm),
            *("corner depths", left, radius_mm),
        )
        return feasibility.corner_findings(
            target,
            unreachable=left,
            depths_mm=depths,
            choice=choice,
            allowed_um=self.requirement.demand_on(target.id).tolerance_um,
            by_mm=by_mm,
        )

    def _first_of(self, path: Paths) -> tuple[Paths, tuple[float, float]]:
        """Return the paths of the first contour that is alike, and how far the contour is off."""
        like = self._alike.get(path.target.id)
        if like is None:
            return path, (0.0, 0.0)
        return paths_of(like.first, self.passes.of(path.target.id), self.memory), like.by_mm

    def _one(self, path: Paths) -> tuple[ContourPlan | None, list[Finding]]:
        """Place the start and the lead-in of one contour, and plan what follows from them."""
        target = path.target
        placement = self.requirement.placement_of(target.id)
        like = self._shared(target)
        stood = self._standing(path) if like is None else self._stands_as(path, like)
        judged = stood.judged
        findings = placed_findings(target, placement, judged) if placement.placed else []
        if judged.site is None or judged.tab is None:
            if not placement.placed:
                no_start = no_start_finding(
                    target,
                    self.passes.of(target.id),
                    self.requirement,
                    self.technology,
                    self.rules,
                )
                findings.append(blocked_start(stood.ground) or no_start)
            return None, findings
        one, said = self._led_from(path, judged.site, judged.tab, stood, like)
        return replace(one, placed=placement.placed), [*findings, *said]

    def _shared(self, target: PartContour) -> Alike | None:
        """Return of which opening a contour has start and tab, itself if it is the first of many.

        None where a person, clamps or the edge of the stock have a say in where they stand.
        """
        is_own = (
            self.walls.clamps is not None
            or bool(self.requirement.walls)
            or bool(self.requirement.placement_of(target.id).placed)
        )
        return None if is_own else self._starts_as.get(target.id)

    @cached_property
    def _starts_as(self) -> Mapping[str, Alike]:
        """Openings with nothing inside, and the first of their shape with the same holes given.

        Whether a given hole lies in the stock is a matter of its place near the edge only.
        """
        found: dict[str, Alike] = {}
        firsts: dict[str, list[tuple[PartContour, tuple[float, float]]]] = {}
        for c in self.part.contours:
            is_by_edge = c.id in self._given and c.id not in self._deep
            if c.role is not Role.OPENING or c.id in self._inside or is_by_edge:
                continue
            like = self._alike.get(c.id, Alike(first=c, by_mm=(0.0, 0.0)))
            known = firsts.setdefault(like.first.id, [])
            for first, at in known:
                by = like.by_mm[0] - at[0], like.by_mm[1] - at[1]
                if self._is_given_alike(c, first, by):
                    found[c.id] = Alike(first=first, by_mm=by)
                    break
            else:
                known.append((c, like.by_mm))
                found[c.id] = Alike(first=c, by_mm=(0.0, 0.0))
        return found

    def _is_given_alike(
        self, one: PartContour, first: PartContour, by_mm: tuple[float, float]
    ) -> bool:
        """Return whether the drawing gives the holes of one opening in another, moved."""
        ours, theirs = (self._given.get(c.id, ()) for c in (one, first))
        return len(ours) == len(theirs) and all(
            a.diameter_mm == b.diameter_mm
            and abs(a.x_mm - b.x_mm - by_mm[0]) <= SAME_MM
            and abs(a.y_mm - b.y_mm - by_mm[1]) <= SAME_MM
            for a, b in zip(ours, theirs, strict=True)
        )

    def _stands_as(self, path: Paths, like: Alike) -> _Stood:
        """Return how a contour stands from how the first that is alike does."""
        choice, name = self.passes.of(path.target.id), like.first.id
        first = paths_of(like.first, choice, self.memory, self._alike.get(name))
        passes, given = JobPasses(most=choice, by_contour={}), self._given.get(name, ())
        stood = self.memory.once(
            partial(self._stand, first, choice, passes, given=given),
            *("stands", first, self._part_key, self.requirement.height_mm),
        )
        site = stood.judged.site
        if site is None or like.first is path.target:
            return stood
        (x, y), at = like.by_mm, site.start
        start = replace(
            at,
            contour_id=path.target.id,
            x_mm=settled_mm(at.x_mm + x),
            y_mm=settled_mm(at.y_mm + y),
        )
        return replace(stood, judged=replace(stood.judged, site=replace(site, start=start)))

    def _standing(self, path: Paths) -> _Stood:
        """Return how a contour stands that is like none, or stands as a person wishes."""
        name = path.target.id
        return self._stand(
            path,
            self.passes.of(name),
            self.passes,
            given=self._given.get(name, ()),
            placement=self.requirement.placement_of(name),
        )

    def _stand(
        self,
        path: Paths,
        choice: PassChoice,
        passes: JobPasses,
        *,
        given: Sequence[GivenStart] = (),
        placement: Placement = NOWHERE_PLACED,
    ) -> _Stood:
        piece = piece_of(
            path,
            contours=self.walls.contours,
            requirement=self.requirement,
            choice=passes,
            memory=self.memory,
        )
        ground = ground_of(
            path,
            choice,
            piece,
            walls=self.walls,
            given=given,
            requirement=self.requirement,
            technology=self.technology,
            rules=self.rules,
        )
        judged = _placed(placement, ground)
        attendance = RoughAttendance.NONE
        if judged.site is not None and judged.tab is not None:
            kerf_mm = choice.wire.radius_mm + choice.passes[0].gap_um / 1000
            attendance = rough_attendance(path, judged.site, judged.tab, kerf_mm, self.memory)
        return _Stood(piece=piece, ground=ground, judged=judged, attendance=attendance)

    def _water(self, path: Paths, site: Site, like: Alike | None) -> FlushingState:
        """Return the flushing of a rough cut: away from the edge of the stock no place enters."""
        choice = self.passes.of(path.target.id)
        make = partial(
            plan_flushing,
            path.loops[0].contour,
            site,
            requirement=self.requirement,
            choice=choice,
            walls=self.walls,
            technology=self.technology,
            rules=self.rules,
        )
        if like is None or path.target.id not in self._deep:
            return make()
        first, _ = self._first_of(path)
        return self.memory.once(make, "water", first, self._part_key, self.requirement.height_mm)

    def _led_from(
        self, path: Paths, site: Site, tab: Tab, stood: _Stood, like: Alike | None
    ) -> tuple[ContourPlan, list[Finding]]:
        """Plan one contour from its start: water, and a tab or loops that leave no slug."""
        target, piece = path.target, stood.piece
        choice, rules = self.passes.of(target.id), self.rules
        flushing = self._water(path, site, like)
        first, by_mm = self._first_of(path)
        coreless, said = decide_coreless(
            path,
            choice,
            piece,
            start=site.start,
            attendance=stood.attendance,
            flushing=flushing,
            contours=self.walls.contours,
            requirement=self.requirement,
            drilling=self.technology.small_hole,
            rules=rules,
            memory=self.memory,
            alike=(first.loops[0].contour, by_mm),
        )
        is_part, held = target.role is Role.OUTLINE, None if coreless else tab
        placement = self.requirement.placement_of(target.id)
        height_mm, law = self.requirement.height_mm, self.technology.small_hole
        findings = [
            *site_findings(site, held, rules, is_part=is_part, placement=placement),
            *drilled_deep(site.start, height_mm, law=law),
            *said,
        ]
        if coreless is None:
            findings += feasibility.piece_findings(
                target, piece=piece, material=self.requirement.material, rules=rules
            )
        one = ContourPlan(
            target=target,
            start=site.start,
            lead_station_mm=site.lead_station_mm,
            tab=held,
            slug=piece,
            skims_before_cut_off=is_part,
            rough_attendance=RoughAttendance.NONE if coreless else stood.attendance,
            loops=path.loops,
            unreachable=path.unreachable,
            choice=choice,
            flushing=flushing,
            coreless=coreless,
        )
        return one, findings


def _placed(placement: Placement, ground: Ground) -> Judged:
    """Return where start, lead-in and tab stand: as a person placed them, or as is best."""
    if placement.placed:
        return judge(placement, ground)
    site = ground.planners_site()
    tab = None if site is None else stand_tab(placement, site.lead_station_mm, ground)[0]
    return Judged(site=site, tab=tab, checks=())
