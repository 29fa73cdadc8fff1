"""Shops whose true factors are known, because they are drawn here: nothing of the learner in it."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np

from kerfwright.adapters.learning_rules import load_learning_rules
from kerfwright.adapters.machines import load_machine
from kerfwright.adapters.tables import load_tables
from kerfwright.learning.records import Input, LearningRules, Measure, MeasuredCut
from kerfwright.process.passes import passes_for
from kerfwright.process.technology import Flushing, Pass
from kerfwright.trade.machine import Machine
from kerfwright.trade.material import Material, Wire

TABLES = load_tables()
RULES: LearningRules = load_learning_rules()
MACHINES = tuple(replace(load_machine(), id=f"machine-{n}") for n in range(3))
MATERIALS = tuple(
    TABLES.catalogue.material(name)
    for name in ("D2", "A2", "H13", "Inconel 718", "Ti-6Al-4V", "304")
)
WIRES = tuple(TABLES.catalogue.wire(f"{d} mm hard brass") for d in ("0.20", "0.25", "0.30"))
HEIGHTS_MM = (12.0, 30.0, 45.0, 80.0)
ODD_MATERIALS = tuple(TABLES.catalogue.material(n) for n in ("D2", "Ti-6Al-4V", "carbide", "PCD"))
ODD_WIRES = tuple(
    TABLES.catalogue.wire(f"0.25 mm {kind}") for kind in ("hard brass", "diffusion annealed")
)
ODD_HEIGHTS_MM = (40.0, 150.0, 200.0, 250.0)
# What learning takes a feed to be unsure by in routine work, and what K_m, K_w and the law over the
# height bring beyond it: the figures of passes.toml, written out again.
ROUTINE_LOG = {True: 0.35, False: 0.25}
STEEL_LOG = 0.171
MATERIAL_LOG = {"nickel": 0.22, "titanium": 0.25, "carbide": 0.36, "diamond": 0.54}
GAIN_SHARE, GAIN_ELSEWHERE_SHARE = 0.24, 0.8
V0_LOG, A_INF_LOG, H_F_LOG, M_LOG = 0.15, 0.12, 0.2, 0.2
STATES = (Flushing.SEALED, Flushing.ONE_OPEN, Flushing.BOTH_OPEN)
STATE_SHARES = (0.6, 0.2, 0.2)
# As the sources of the factors in passes.toml state them, written out again.
FACTORS = {Flushing.ONE_OPEN: 0.7, Flushing.BOTH_OPEN: 0.4}
INTERVALS = {Flushing.ONE_OPEN: (0.6, 0.8), Flushing.BOTH_OPEN: (0.3, 0.5)}
# 1.4759/1.2816: the 90th percentile of Student's t with 5 degrees of freedom over the normal's
# (tables of both distributions).
T5_OVER_NORMAL = 1.4759 / 1.2816
MODEL_SIGMA = 0.7


@dataclass(slots=True, kw_only=True)
class Scene:
    """One job of a simulated shop, its rough cuts under one state of the nozzles."""

    job: str
    machine: Machine
    material: Material
    wire: Wire
    height_mm: float
    flushing: Flushing = Flushing.SEALED

    def passes(self, count, technology=TABLES.technology) -> tuple[Pass, ...]:
        return passes_for(
            count,
            material=self.material,
            height_mm=self.height_mm,
            wire=self.wire,
            machine=self.machine,
            technology=technology,
        )


@dataclass(slots=True, kw_only=True)
class Shop:
    """True effects, drawn when first asked for."""

    seed: int
    tail: str = "normal"
    effects: dict = field(default_factory=dict)
    generator: np.random.Generator = None
    water: np.random.Generator = None
    scales: np.ndarray = None
    is_odd: bool = False

    def __post_init__(self):
        self.generator = np.random.default_rng(self.seed)
        # By itself: the same shop with all nozzles closed has the same scenes, effects and scatter.
        self.water = np.random.default_rng((self.seed, 1))
        # The variances differ from shop to shop, about those of the rules; the middle is such that
        # the mixture has the tables' own 10-90 % range (a mixture of normals has wider tails).
        middle = -(1.2816**2 - 1) / 4 * MODEL_SIGMA**2
        self.scales = np.exp(middle + MODEL_SIGMA * self.generator.standard_normal(3))

    def scene(self, job) -> Scene:
        g = self.generator
        materials = ODD_MATERIALS if self.is_odd else MATERIALS
        wires = ODD_WIRES if self.is_odd else WIRES
        heights_mm = ODD_HEIGHTS_MM if self.is_odd else HEIGHTS_MM
        return Scene(
            job=job,
            machine=MACHINES[g.integers(3)],
            material=materials[g.integers(len(materials))],
            wire=wires[g.integers(len(wires))],
            height_mm=heights_mm[g.integers(4)],
            flushing=STATES[self.water.choice(3, p=STATE_SHARES)],
        )

    def effect(self, kind, *of):
        if (kind, of) not in self.effects:
            scale = self.scales[1] if kind is Input.JOB else self.scales[0]
            deviation = math.sqrt(RULES.shares[Measure.FEED][kind] * scale)
            self.effects[kind, of] = deviation * self.generator.standard_normal()
        return self.effects[kind, of]

    def nozzles(self, scene: Scene, one: Pass) -> float:
        """True factor of the nozzles of a scene on a pass: one for the whole shop, none for skims.

        Its logarithm is spread as the interval in its table says; that is no matter of how far
        the shop's other inputs are off.
        """
        state = scene.flushing
        if one.number > 1 or state is Flushing.SEALED:
            return 1.0
        low, high = INTERVALS[state]
        deviation = math.log(high / low) / (2 * 1.2816)
        if ("nozzles", state) not in self.effects:
            self.effects["nozzles", state] = deviation * self.water.standard_normal()
        return FACTORS[state] * math.exp(self.effects["nozzles", state])

    def shared(self, scene: Scene, number: int) -> float:
        """True deviation without job and cut, in the tables' sigmas of routine work."""
        band = RULES.band(scene.height_mm)
        machine, material, wire = scene.machine.id, scene.material.id, scene.wire.diameter_mm
        return (
            self.effect(Input.MACHINE, machine)
            + self.effect(Input.FAMILY, scene.material.family)
            + self.effect(Input.MATERIAL, material)
            + self.effect(Input.WIRE, wire)
            + self.effect(Input.HEIGHT, band)
            + self.effect(Input.PASS, number)
            + self.effect(Input.COMBINATION, machine, material, wire, number)
        )

    def unknown(self, *of) -> float:
        """True deviate of a figure of the law, one for the whole shop."""
        if ("law", of) not in self.effects:
            self.effects["law", of] = self.water.standard_normal()
        return self.effects["law", of]

    def beyond_log(self, scene: Scene, one: Pass) -> float:
        """True logarithm by which height, wire and material move a feed beyond routine work."""
        material, wire, rough = scene.material, scene.wire, one.is_rough
        more = MATERIAL_LOG.get(material.family, STEEL_LOG) ** 2 - STEEL_LOG**2
        off = self.unknown("K_m", material.id) * math.sqrt(more) * (1 if rough else 0.5)
        if not rough:
            tall = max(1.0, scene.height_mm / 50)
            return off - self.unknown("m") * M_LOG * 0.5 * math.log(tall)
        share = GAIN_SHARE if material.family == "steel" else GAIN_ELSEWHERE_SHARE
        gain = share * math.log(wire.rate_factor)
        off += self.unknown("K_w", wire.kind, material.family) * gain
        here, routine = (height_variance(h_mm) for h_mm in (scene.height_mm, 40.0))
        is_tall = scene.height_mm >= 40
        return off + self.unknown("H", is_tall) * math.sqrt(max(0.0, here - routine))

    def known_log(self, scene: Scene, one: Pass) -> float:
        """True logarithm of a feed over the tables', without nozzles, job and cut."""
        routine = ROUTINE_LOG[one.is_rough] * self.shared(scene, one.number)
        return routine + self.beyond_log(scene, one)

    def scatter(self) -> float:
        g = self.generator
        deviation = math.sqrt(RULES.shares[Measure.FEED][Input.CUT] * self.scales[2])
        match self.tail:
            case "student":
                return deviation * g.standard_t(5) / T5_OVER_NORMAL
            case "outliers":
                wild = 8 * deviation * g.choice((-1, 1)) if g.random() < 0.04 else 0.0
                return deviation * g.standard_normal() + wild
        return deviation * g.standard_normal()

    def feed(self, scene: Scene, one: Pass) -> float:
        """True feed of one cut, given the tables' pass."""
        off = self.known_log(scene, one)
        off += ROUTINE_LOG[one.is_rough] * (self.effect(Input.JOB, scene.job) + self.scatter())
        washed = self.nozzles(scene, one)
        return washed * one.feed_mm_per_min * math.exp(off)

    def cuts(self, scene: Scene, *, passes: int, contours: int, length_mm=100.0):
        return [
            measured(scene, one.number, feed=self.feed(scene, one), length_mm=length_mm)
            for one in scene.passes(passes)
            for _ in range(contours)
        ]

    def records(self, jobs: int):
        g = self.generator
        return [
            cut
            for n in range(jobs)
            for cut in self.cuts(
                self.scene(f"J{n}"), passes=int(g.integers(1, 5)), contours=int(g.integers(1, 4))
            )
        ]


def height_variance(height_mm: float) -> float:
    """What v0, A_inf and H_f bring of the variance of a rough feed with the usual wire, by hand."""
    thin = (1 / (12 * height_mm)) / (1 / (12 * height_mm) + 1 / 220)
    tall = (height_mm / 250) ** 2
    slopes = thin * V0_LOG, (1 - thin) * A_INF_LOG, 2 * tall / (1 + tall) * H_F_LOG
    return math.fsum(slope**2 for slope in slopes)


def measured(scene: Scene, number: int, *, feed, length_mm=100.0, **more) -> MeasuredCut:
    return MeasuredCut(
        job=scene.job,
        machine=scene.machine,
        material=scene.material,
        wire=scene.wire,
        height_mm=scene.height_mm,
        pass_number=number,
        length_mm=length_mm,
        minutes=length_mm / feed,
        **({"flushing": scene.flushing} | more),
    )
