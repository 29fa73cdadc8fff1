"""What the shop's measured cuts say about passes, as the process sees it.

The process knows only this shape; how it is learned is the business of
:mod:`kerfwright.learning`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Protocol

from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import Shares
from kerfwright.foundation.units import both
from kerfwright.process.borne_feeds import BorneFeeds
from kerfwright.process.feed_spread import Beyond
from kerfwright.process.sheet_records import SheetRecord
from kerfwright.trade.machine import Machine
from kerfwright.trade.material import Material, Wire

Loadings = tuple[tuple[str, float], ...]
"""Standard deviation of a logarithm by cause; the causes are independent of each other."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shipped:
    """What the tables say of one pass, for experience to move.

    Attributes
    ----------
    number : int
        1 for the rough pass.
    feed_sigma_log : float
        Standard deviation of the logarithm of the feed in routine work.
    tolerance_um : float
        Half zone that it holds: taken as two standard deviations of the size.
    fine_spark_sigma_log : float
        What the sparks of a thin wire leave open of its roughness, of the logarithm.
    nozzles : tuple of (str, float)
        Of a rough pass: states of the nozzles that do not close, and the standard deviation of the
        logarithm of their factor on the feed.
    feed_beyond : tuple of Beyond
        What makes the feed less sure than in routine work.
    """

    number: int
    feed_sigma_log: float
    tolerance_um: float
    fine_spark_sigma_log: float = 0.0
    nozzles: tuple[tuple[str, float], ...] = ()
    feed_beyond: tuple[Beyond, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class NozzlesLearned:
    """What experience makes of the factor of nozzles that do not close.

    Attributes
    ----------
    state : str
    factor : float
        On the factor of the tables.
    loadings : Loadings
        Spread of its logarithm by cause: those of the feed under closed nozzles, where cuts told
        the two only together, and its own.
    """

    state: str
    factor: float
    loadings: Loadings


@dataclass(frozen=True, slots=True, kw_only=True)
class FewJobs:
    """A feed that few jobs moved beyond the 10–90 % range it had before them.

    Attributes
    ----------
    jobs : int
        How many.
    more : int
        Jobs alike from which no single one decides.
    factor : float
        What they did to the feed.
    """

    jobs: int
    more: int
    factor: float


TYPED: Final = "typed"
"""Begins the place of a cut that a person typed, with its number among those of one batch."""
_SHORT: Final = 12
"""Digits of a batch's name that are enough to tell it from others."""
_DAY: Final = 10
"""Characters of a date."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeRecord:
    """One measured size, as a person finds it again.

    Attributes
    ----------
    job : str
    pass_number : int
    size_um : float
        Positive for metal left.
    place : str
        File and line that it was read from; empty where nobody knows.
    recorded : str
        When it was recorded, ISO 8601; the day alone in experience from before; empty where nobody
        knows.
    batch : str
        Name of the batch that it was recorded with; empty where nobody knows.
    is_beyond : bool
        Whether it is beyond what its own pass holds by the tables, so that it had a cause; False
        too in experience from before that was kept.
    set_um : float
        By how much the offset of its pass was set smaller since; below 0 for larger.
    """

    job: str
    pass_number: int
    size_um: float
    place: str = ""
    recorded: str = ""
    batch: str = ""
    is_beyond: bool = False
    set_um: float = 0.0

    @property
    def now_um(self) -> float:
        """The size as with the offset of now."""
        return self.size_um - self.set_um

    @property
    def words(self) -> str:
        """The record for the middle of a sentence.

        Examples
        --------
        >>> SizeRecord(job="J1", pass_number=3, size_um=49, place="a.csv line 2").words
        'job J1, pass 3: 49 µm (0.00193 in), a.csv line 2'
        """
        sign = "-" if self.size_um < 0 else ""
        day = f"recorded on {self.recorded[:_DAY]}" if self.recorded else ""
        value = f"job {self.job}, pass {self.pass_number}: {sign}{both(abs(self.size_um))}"
        # Every batch typed by hand begins with its cut 1.
        typed = self.place.startswith(TYPED) and self.batch
        place = f"typed, batch {self.batch[:_SHORT]}" if typed else self.place
        way = set_way(self.set_um)
        since = f"offset set {both(abs(self.set_um))} {way} since" if self.set_um else ""
        return ", ".join(part for part in (value, place, day, since) if part)


def set_way(smaller_um: float) -> str:
    """Say which way an offset is set by what it is made smaller.

    Examples
    --------
    >>> set_way(2.0), set_way(-2.0)
    ('smaller', 'larger')
    """
    return "smaller" if smaller_um > 0 else "larger"


@dataclass(frozen=True, slots=True, kw_only=True)
class SizesTurn:
    """Where sizes of one pass, in the order of recording, came nearer nominal all at once.

    As they do where somebody set the offset and said so to nobody.

    Attributes
    ----------
    jobs : tuple of str
        Those recorded since, in their order.
    before_um, since_um : float
        Mean of the sizes of the jobs before, and of those since.
    """

    jobs: tuple[str, ...]
    before_um: float
    since_um: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SizesKnown:
    """What the measured sizes say of a pass.

    Attributes
    ----------
    held_um : float
        Half zone by their squares and the tables', before any floor.
    tables_um : float
        Half zone by the tables.
    count, jobs : int
        Sizes of just this machine, material, wire and pass, and of how many jobs.
    lent_jobs : int
        Where there are none: the most jobs of any other pass, material, wire or machine heard.
    questioned : tuple of SizeRecord
        Sizes of the machine and pass that are in question and count for nothing.
    doubted : int
        How many they are; in experience from before they were kept, more than are named.
    worst : tuple of SizeRecord
        Those that count for most of what is held, where they make it wider.
    settled_jobs : int
        Jobs alike from which no single one decides.
    mean_um, least_um, most_um : float
        Of those sizes, between guides close to the work; 0 where there are none.
    held_without_worst_um : float
        As ``held_um``, had the farthest of those sizes not been; 0 where there are none.
    held_sigma_log : float
        Standard deviation of the logarithm of what is really held.
    mean_factor : float
        Of the likeliest size by all cuts, what is left where sizes of finer passes count as the
        micrometres they are.
    of : str
        Machine, material, wire and pass, as the shop says that its offset was set.
    turn : SizesTurn or None
    """

    held_um: float
    tables_um: float
    count: int = 0
    jobs: int = 0
    lent_jobs: int = 0
    questioned: tuple[SizeRecord, ...] = ()
    doubted: int = 0
    worst: tuple[SizeRecord, ...] = ()
    settled_jobs: int = 0
    mean_um: float = 0.0
    least_um: float = 0.0
    most_um: float = 0.0
    held_without_worst_um: float = 0.0
    held_sigma_log: float = 0.0
    mean_factor: float = 1.0
    of: str = ""
    turn: SizesTurn | None = None

    def tolerance_um(self, *, best_um: float, is_proven: bool) -> float:
        """Return what may be promised, µm: a better one than the tables' with enough sizes only.

        Parameters
        ----------
        best_um : float
            What the machine can.
        is_proven : bool
            Whether enough sizes were measured; one in question unproves them.
        """
        return max(self.held_um, self.least_um_held(best_um=best_um, is_proven=is_proven))

    def within_um(self, um: float) -> float:
        """Return the size expected: no further off than any that was measured of just this, µm.

        What other passes showed says nothing beyond them: an offset set by it would be a guess.

        Parameters
        ----------
        um : float
            The likeliest size error by all cuts, each as so many tolerances of its pass.
        """
        um *= self.mean_factor
        if not self.count:
            return um
        return min(max(um, min(0.0, self.least_um)), max(0.0, self.most_um))

    def least_um_held(self, *, best_um: float, is_proven: bool) -> float:
        """Return the narrowest that may be promised, µm."""
        return best_um if is_proven and not self.doubted else max(best_um, self.tables_um)


@dataclass(frozen=True, slots=True, kw_only=True)
class Learned:
    """What experience makes of one pass.

    Attributes
    ----------
    experience : str
        SHA-256 of the posterior it comes from.
    records : int
        Measured cuts of just this machine, material, wire and pass.
    feed_factor : float
        On the shipped feed.
    feed_loadings : Loadings
        Causes that passes of one cut share, by name; equal names move together.
    feed_job_log : float
        Standard deviation from job to job, shared by all cuts of one job.
    feed_scatter_log : float
        Standard deviation from cut to cut, independent; its 10–90 % range is the measured one.
    feed_shares : Shares
        Who brings how much of the variance of the logarithm of one cut's feed.
    feed_known : float
        Share of what cuts can teach of the feed that they have taught: 0 where none counted.
    ra_factor, ra_sigma_log : float
        On the shipped roughness.
    ra_shares : Shares
        Who brings how much of the variance of the logarithm of one cut's roughness.
    size_bias_um, size_sigma_um : float
        Wall against where its pass should leave it, positive for too much metal left; and its
        standard deviation.
    is_size_proven : bool
        Whether enough sizes of just this combination were measured to promise better than the
        tables; worse counts at once.
    wire_factor, wire_sigma_log : float
        On the wire used in a minute.
    breaks_per_h : Range
        Wire breaks in an hour of cutting.
    breaks_burst : float
        Variance of a count of them beyond Poisson and beyond that of the rate, over its mean.
    few : FewJobs or None
        What few jobs alone did to the feed, where that is much.
    borne : BorneFeeds or None
        Of a rough pass: the feeds that cuts with counted breaks have had.
    nozzles : tuple of NozzlesLearned
        Of a rough pass; the feed above is that under closed ones.
    sizes : SizesKnown or None
        What the measured sizes hold; None in experience from before every size counted.
    sheets : tuple of SheetRecord
        Sheets with cuts of just this that may hold one slip and count by so much less.
    """

    experience: str
    records: int
    feed_factor: float
    feed_loadings: Loadings
    feed_job_log: float
    feed_scatter_log: float
    feed_shares: Shares
    ra_factor: float
    ra_sigma_log: float
    ra_shares: Shares
    size_bias_um: float
    size_sigma_um: float
    is_size_proven: bool
    wire_factor: float
    wire_sigma_log: float
    breaks_per_h: Range
    feed_known: float = 1.0
    breaks_burst: float = 0.0
    few: FewJobs | None = None
    borne: BorneFeeds | None = None
    nozzles: tuple[NozzlesLearned, ...] = ()
    sizes: SizesKnown | None = None
    sheets: tuple[SheetRecord, ...] = ()

    @property
    def feed_sigma_log(self) -> float:
        """Standard deviation of the logarithm of the feed of a single cut."""
        squares = [loading**2 for _, loading in self.feed_loadings]
        return float((sum(squares) + self.feed_job_log**2 + self.feed_scatter_log**2) ** 0.5)


class Experience(Protocol):
    """What a shop has learned, asked for all passes of one cut together."""

    @property
    def sha256(self) -> str:
        """Hash of its content."""
        ...

    def learned(
        self,
        passes: Sequence[Shipped],
        *,
        machine: Machine,
        material: Material,
        wire: Wire,
        height_mm: float,
    ) -> tuple[Learned, ...]:
        """Return what is known of each pass."""
        ...


def jobs_words(few: FewJobs) -> str:
    """Say how many jobs, for the middle of a sentence.

    Examples
    --------
    >>> jobs_words(FewJobs(jobs=1, more=2, factor=0.4))
    'one job alone'
    """
    return "one job alone" if few.jobs == 1 else f"{few.jobs} jobs alone"


def more_words(few: FewJobs) -> str:
    """Say how many more jobs are wanted; the verb is that of several."""
    return "One more job like it will" if few.more == 1 else f"{few.more} more jobs like it will"


def moved_words(few: FewJobs) -> str:
    """Say what they made of a feed, as one says a factor.

    Examples
    --------
    >>> moved_words(FewJobs(jobs=1, more=2, factor=0.4))
    '1/2.5 of what it was without it'
    """
    factor = few.factor
    times = f"{factor:.3g} times" if factor >= 1 else f"1/{1 / factor:.3g} of"
    return f"{times} what it was without {'it' if few.jobs == 1 else 'them'}"


def few_jobs_finding(feeds: Sequence[tuple[int, FewJobs]]) -> Finding:
    """Return what a plan or quote says of passes whose feed rests on few jobs.

    Parameters
    ----------
    feeds : sequence of (int, FewJobs)
        Number of the pass and what moved it; at least one.
    """
    parts = [f"{moved_words(few)} (pass {n})" for n, few in feeds]
    _, least = min(feeds, key=lambda pair: pair[1].jobs)
    return Finding(
        code="rests-on-few-jobs",
        severity=Severity.WARNING,
        message=f"{jobs_words(least).capitalize()} moved the feed here to {', '.join(parts)}: "
        "further than four cuts in five are off. Time and price rest on it.",
        remedy="Check the clock and the rows of the job that was recorded, or price without "
        f"--shop. {more_words(least)} settle it.",
        data={"passes": ", ".join(f"{n}" for n, _ in feeds), "jobs": least.jobs},
    )
