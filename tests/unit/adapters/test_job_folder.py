from __future__ import annotations

import json
import os
import stat
import tomllib
from pathlib import Path

import numpy as np
import pytest

import handmade
from kerfwright.adapters import job_folder, plan_claims
from kerfwright.adapters.job_folder import Wanted, read_job_toml, write_job
from kerfwright.foundation.errors import FileError, InputError

WANTED = Wanted(
    drawing="../wheel.dxf",
    drawing_sha256="ab" * 32,
    material="D2",
    height="25 mm",
    tolerance="5 um",
    quantities=(1, 10),
    layers={'odd "name"\\': "ignore", "Ö\x7f": "cut"},
)

HEAD = "format = 'kerfwright-job'\nversion = 1\n"


def contents(program: str | None = "G21\n", *, passed: bool = True) -> dict[str, str]:
    plan = handmade.plan(handmade.wheel())
    return job_folder.job_contents(
        WANTED,
        plan,
        path=handmade.wire_path(plan),
        program=program,
        claim=handmade.claim(plan),
        proof=handmade.proof(plan, passed=passed),
        estimate=handmade.estimate(),
        version="0.1.0",
    )


def listing(folder: Path) -> dict[str, bytes]:
    return {p.name: p.read_bytes() for p in folder.iterdir() if p.is_file()}


def test_a_run_writes_every_file_and_leaves_nothing_else(tmp_path: Path) -> None:
    done = write_job(tmp_path / "job", contents())
    assert set(done.files) == {
        "job.toml", "plan.json", "program.nc", "proof.json", "estimate.json", "plan.svg",
    }  # fmt: skip
    assert set(listing(tmp_path / "job")) == {*done.files, ".kerfwright-files"}


def test_files_and_folder_are_for_their_owner_only(tmp_path: Path) -> None:
    folder = tmp_path / "job"
    write_job(folder, contents())
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert {stat.S_IMODE(p.stat().st_mode) for p in folder.iterdir() if p.is_file()} == {0o600}


def test_the_same_run_again_gives_the_same_bytes(tmp_path: Path) -> None:
    write_job(tmp_path, contents())
    first = listing(tmp_path)
    write_job(tmp_path, contents())
    assert listing(tmp_path) == first


def test_a_file_of_the_same_name_made_by_somebody_is_refused_and_kept(tmp_path: Path) -> None:
    (tmp_path / "program.nc").write_text("mine")
    with pytest.raises(FileError) as caught:
        write_job(tmp_path, contents())
    assert caught.value.code == "file-not-ours"
    assert listing(tmp_path) == {"program.nc": b"mine"}


def test_an_own_file_that_was_edited_since_is_refused_and_all_stay(tmp_path: Path) -> None:
    write_job(tmp_path, contents())
    (tmp_path / "program.nc").write_text("edited at the machine")
    before = listing(tmp_path)
    with pytest.raises(FileError, match="edited"):
        write_job(tmp_path, contents("G20\n"))
    assert listing(tmp_path) == before


def test_a_link_of_the_same_name_is_refused(tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.write_text("G21\n")
    folder = tmp_path / "job"
    folder.mkdir()
    (folder / "program.nc").symlink_to(elsewhere)
    with pytest.raises(FileError):
        write_job(folder, contents())
    assert elsewhere.read_text() == "G21\n"


def test_other_files_of_the_folder_are_left_alone(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("ring the customer")
    write_job(tmp_path, contents())
    write_job(tmp_path, contents("G20\n"))
    assert (tmp_path / "notes.txt").read_text() == "ring the customer"


def test_a_refused_run_leaves_an_earlier_program_and_its_papers_whole(tmp_path: Path) -> None:
    write_job(tmp_path, contents())
    before = listing(tmp_path)
    done = write_job(tmp_path, contents(passed=False), refused=True)
    assert done.kept_earlier
    assert done.files == ()
    assert listing(tmp_path) == before


def test_a_refused_run_in_a_fresh_folder_writes_what_there_is_but_no_program(
    tmp_path: Path,
) -> None:
    write_job(tmp_path, contents(passed=False), refused=True)
    assert "program.nc" not in listing(tmp_path)
    assert json.loads((tmp_path / "plan.json").read_text())["program"] is None
    # A later good run may replace the refused one.
    assert "program.nc" in write_job(tmp_path, contents()).files


def test_a_program_without_a_passed_proof_is_never_among_the_files() -> None:
    assert "program.nc" not in contents(passed=False)


def test_a_failure_in_the_middle_of_the_swap_puts_every_earlier_file_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_job(tmp_path, contents())
    before = {n: b for n, b in listing(tmp_path).items() if n != ".kerfwright-files"}
    true_replace = Path.replace

    def failing(self: Path, target: Path) -> Path:
        if Path(target).name == "proof.json" and not self.name.endswith(".earlier"):
            raise OSError(28, "No space left on device")
        return true_replace(self, target)

    monkeypatch.setattr(Path, "replace", failing)
    with pytest.raises(FileError, match="No space left"):
        write_job(tmp_path, contents("G20\n"))
    monkeypatch.undo()
    after = {n: b for n, b in listing(tmp_path).items() if n != ".kerfwright-files"}
    assert after == before
    # The folder is still usable.
    write_job(tmp_path, contents("G20\n"))
    assert (tmp_path / "program.nc").read_text() == "G20\n"


def test_a_run_killed_between_two_renames_leaves_files_that_the_next_run_knows(
    tmp_path: Path,
) -> None:
    write_job(tmp_path, contents())
    pid = os.fork()
    if pid == 0:
        true_replace = Path.replace

        def dying(self: Path, target: Path) -> Path:
            if Path(target).name == "proof.json":
                os._exit(0)
            return true_replace(self, target)

        Path.replace = dying  # type: ignore[method-assign]
        write_job(tmp_path, contents("G20\n"))
        os._exit(1)
    assert os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) == 0
    assert (tmp_path / "program.nc").read_text() == "G20\n"
    done = write_job(tmp_path, contents("G90\n"))
    assert (tmp_path / "program.nc").read_text() == "G90\n"
    assert "proof.json" in done.files


def test_own_files_that_are_made_no_more_are_taken_away(tmp_path: Path) -> None:
    all_files = contents()
    write_job(tmp_path, all_files)
    fewer = {n: t for n, t in all_files.items() if n != "estimate.json"}
    assert write_job(tmp_path, fewer).removed == ("estimate.json",)
    assert "estimate.json" not in listing(tmp_path)


def test_a_place_that_cannot_be_a_folder_is_a_file_error(tmp_path: Path) -> None:
    (tmp_path / "job").write_text("")
    with pytest.raises(FileError) as caught:
        write_job(tmp_path / "job", contents())
    assert caught.value.code == "job-folder-unwritable"


def test_the_job_file_is_toml_and_reads_back_equal(tmp_path: Path) -> None:
    write_job(tmp_path, contents())
    # tomllib is Python's own reader of TOML 1.0.
    assert tomllib.loads((tmp_path / "job.toml").read_text())["quantities"] == [1, 10]
    assert read_job_toml(tmp_path) == WANTED


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("a = ", "job-broken"),
        ("format = 'other'\nversion = 1\n", "job-format"),
        (f"{HEAD}drawing = 'a'\n", "job-broken"),
        (f"{HEAD}drawing = 1\ndrawing_sha256 = ''\nmaterial = 'x'\nheight = '1'\n", "job-broken"),
    ],
)
def test_a_broken_job_file_is_an_input_error(tmp_path: Path, text: str, code: str) -> None:
    (tmp_path / "job.toml").write_text(text)
    with pytest.raises(InputError) as caught:
        read_job_toml(tmp_path)
    assert caught.value.code == code


def test_a_drawing_that_changed_since_the_plan_is_refused(tmp_path: Path) -> None:
    (tmp_path / "wheel.dxf").write_text("0")
    wanted = Wanted(drawing="wheel.dxf", drawing_sha256="0" * 64, material="D2", height="1 mm")
    with pytest.raises(InputError) as caught:
        job_folder.drawing_of(tmp_path, wanted)
    assert caught.value.code == "drawing-changed"


def test_the_plan_reads_back_vertex_for_vertex(tmp_path: Path) -> None:
    plan = handmade.plan(handmade.wheel())
    write_job(tmp_path, contents())
    again = plan_claims.contours_from(job_folder.read_plan(tmp_path))
    for one, other in zip(plan.part.contours, again, strict=True):
        assert (one.id, one.role, one.parent_id) == (other.id, other.role, other.parent_id)
        assert np.array_equal(one.contour.vertices, other.contour.vertices)


def test_the_claim_of_a_plan_names_kerf_machine_and_starts(tmp_path: Path) -> None:
    write_job(tmp_path, contents())
    claim = plan_claims.claim_from(job_folder.read_plan(tmp_path))
    assert claim.machine == handmade.MACHINE
    assert claim.kerf_radius_mm[1] == pytest.approx(0.125 + 0.035)
    assert claim.cut_ids == {"P1", "H1", "H2", "H3", "H4", "H5"}
    assert claim.tolerance_um == handmade.claim(handmade.plan(handmade.wheel())).tolerance_um
    assert len(claim.starts) == 6
    assert claim.stock is not None
