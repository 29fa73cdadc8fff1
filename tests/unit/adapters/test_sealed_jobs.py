"""A sealed job gives nothing away, comes back whole, and is lost without its passphrase."""

from __future__ import annotations

import json
import shutil
import zipfile
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from tests.postgres_server import fresh_database

from kerfwright.adapters import sealed_jobs, seals
from kerfwright.adapters.backup.making import make_backup
from kerfwright.adapters.backup.restoring import restore_backup
from kerfwright.adapters.enquiry_store import EnquiryStore, open_store
from kerfwright.adapters.index.query import Query
from kerfwright.adapters.job_folder import write_job
from kerfwright.adapters.sealed_jobs import OPENED, SEALED
from kerfwright.foundation.errors import FileError, InputError, UnknownNameError

PASSPHRASE = "six words that do not belong"  # noqa: S105 of nobody
NOW = datetime(2027, 1, 31, 7, 0, tzinfo=UTC)
MARK = "Zweiundzwanzig-Sternwarte"
"""Stands in the drawing, in its name, in what is asked and in a version."""


COST = (seals._SCRYPT_N, seals._SCRYPT_R, seals._SCRYPT_P)


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    # The key is computed dozens of times here; one test looks at what it costs.
    monkeypatch.setattr(seals, "_SCRYPT_N", 2**10)


@pytest.fixture(params=["sqlite", "postgresql"])
def store(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[EnquiryStore]:
    url = None
    if request.param == "postgresql":
        url = fresh_database(request.getfixturevalue("postgres_server"))
    found = open_store(tmp_path / "jobs", url=url)
    found.ready()
    yield found
    found.index.close()


def kept(store: EnquiryStore) -> str:
    one = store.add(f"Part {MARK}.dxf", f"0 {MARK}".encode(), added=NOW)
    one = store.change(one.id, lambda now: now.with_lines({"customer": MARK, "due": "2027-02-01"}))
    write_job(store.place_of(one.id), {"plan.json": json.dumps({"for": MARK})}, asked=one.asked)
    store.listed(Query())
    return one.id


def contents(folder: Path) -> dict[str, bytes]:
    return {
        p.relative_to(folder).as_posix(): p.read_bytes()
        for p in sorted(folder.rglob("*"))
        if p.is_file() and p.name not in {".writing", OPENED}
    }


def ids(store: EnquiryStore) -> list[str]:
    store.index.look_again()
    return [one.id for one in store.listed(Query()).enquiries]


def clear_texts(folder: Path) -> list[str]:
    found = []
    for p in folder.rglob("*"):
        if p.is_file():
            data = p.read_bytes()
            if MARK.encode() in data or MARK.casefold().encode() in data or MARK in p.name:
                found.append(p.relative_to(folder).as_posix())
    return found


def test_a_job_comes_back_byte_for_byte(store: EnquiryStore) -> None:
    job = kept(store)
    before = contents(store.place_of(job))
    assert any(name.startswith("versions/") for name in before)
    store.seal(job, PASSPHRASE)
    assert not (store.folder / job).exists()
    assert ids(store) == []
    store.unseal(job, PASSPHRASE)
    assert contents(store.place_of(job)) == before
    store.seal(job, None)
    store.unseal(job, PASSPHRASE, for_good=True)
    assert contents(store.place_of(job)) == before
    assert ids(store) == [job]
    assert list(sealed_jobs.sealed_jobs(store.folder)) == []
    assert not (store.folder / SEALED / job).exists()


def test_nothing_of_a_sealed_job_can_be_read_anywhere(store: EnquiryStore) -> None:
    job = kept(store)
    store.add("other.dxf", b"x", added=NOW)
    ids(store)
    assert clear_texts(store.folder)
    store.seal(job, PASSPHRASE)
    assert clear_texts(store.folder) == []
    names = {p.name for p in (store.folder / SEALED / job).iterdir()}
    assert all(n in {"seal.json", "key", "names"} or n.isdigit() for n in names)
    with store.index.reading() as connection:
        import sqlalchemy as sa

        from kerfwright.adapters.index.schema import metadata

        rows = [
            tuple(row) for t in metadata.tables.values() for row in connection.execute(sa.select(t))
        ]
    assert MARK.casefold() not in repr(rows).casefold()


def test_neither_index_nor_backup_holds_a_job_that_is_open(
    store: EnquiryStore, tmp_path: Path
) -> None:
    job = kept(store)
    store.seal(job, PASSPHRASE)
    store.unseal(job, PASSPHRASE)
    # Somebody works on it.
    store.change(job, lambda now: now.with_lines({"reference": f"{MARK} new"}))
    assert ids(store) == []
    archive = tmp_path / "backup.zip"
    note = make_backup(store.folder, archive)
    assert any(job in one for one in note.left_out)
    with zipfile.ZipFile(archive) as packed:
        every = b"".join(packed.read(name) for name in packed.namelist())
        names = " ".join(packed.namelist())
    assert MARK.encode() not in every
    assert MARK not in names
    restore_backup(archive, tmp_path / "again")
    again = open_store(tmp_path / "again")
    again.unseal(job, PASSPHRASE)
    assert again.read(job).asked["customer"] == MARK
    again.index.close()


def test_what_was_changed_while_open_is_sealed_with_it(store: EnquiryStore) -> None:
    job = kept(store)
    store.seal(job, PASSPHRASE)
    store.unseal(job, PASSPHRASE)
    store.change(job, lambda now: now.with_lines({"due": "2027-03-03"}))
    store.seal(job, None)
    assert clear_texts(store.folder) == []
    store.unseal(job, PASSPHRASE)
    assert store.read(job).asked["due"] == "2027-03-03"


def test_without_its_passphrase_a_job_stays_closed_and_it_says_so(store: EnquiryStore) -> None:
    job = kept(store)
    store.seal(job, PASSPHRASE)
    for wrong in ("", PASSPHRASE + " ", PASSPHRASE.upper()):
        with pytest.raises(InputError, match="not the passphrase") as caught:
            store.unseal(job, wrong)
        assert "lost is lost" in caught.value.remedy
    assert not (store.folder / job).exists()
    with pytest.raises(UnknownNameError, match="is sealed") as closed:
        store.read(job)
    assert closed.value.code == "job-sealed"
    assert f"kerfwright jobs unseal {job}" in closed.value.remedy
    with pytest.raises(UnknownNameError):
        store.unseal("nothing", PASSPHRASE)
    with pytest.raises(UnknownNameError):
        store.unseal("..", PASSPHRASE)


def test_a_passphrase_that_is_easily_guessed_is_refused(store: EnquiryStore) -> None:
    job = kept(store)
    for weak in ("", "short", "a" * 40):
        with pytest.raises(InputError) as caught:
            store.seal(job, weak)
        assert caught.value.code == "passphrase-weak"
    with pytest.raises(InputError, match="not sealed before"):
        store.seal(job, None)
    assert ids(store) == [job]


@pytest.fixture
def alone(tmp_path: Path) -> Iterator[EnquiryStore]:
    found = open_store(tmp_path / "jobs")
    found.ready()
    yield found
    found.index.close()


def test_one_bit_that_was_changed_is_found_in_every_file(alone: EnquiryStore) -> None:
    job = kept(alone)
    alone.seal(job, PASSPHRASE)
    folder = alone.folder / SEALED / job
    for file in sorted(folder.iterdir()):
        data = file.read_bytes()
        file.write_bytes(data[:-5] + bytes([data[-5] ^ 1]) + data[-4:])
        with pytest.raises((InputError, FileError)):
            alone.unseal(job, PASSPHRASE)
        assert not (alone.folder / job).exists()
        file.write_bytes(data)
    # Nor can one file be put for another, or one job for another.
    one, two = (p for p in sorted(folder.iterdir()) if p.name in {"00001", "00002"})
    first, second = one.read_bytes(), two.read_bytes()
    one.write_bytes(second)
    two.write_bytes(first)
    with pytest.raises(InputError, match="damaged"):
        alone.unseal(job, PASSPHRASE)
    one.write_bytes(first)
    two.write_bytes(second)
    shutil.copytree(folder, folder.parent / "another")
    with pytest.raises(InputError, match="damaged"):
        alone.unseal("another", PASSPHRASE)
    alone.unseal(job, PASSPHRASE)


STEPS = ("write_whole", "_put", "rmtree")


@pytest.mark.parametrize("step", STEPS)
@pytest.mark.parametrize("is_first", [True, False])
def test_a_run_that_is_killed_while_it_seals_loses_nothing(
    alone: EnquiryStore, monkeypatch: pytest.MonkeyPatch, step: str, *, is_first: bool
) -> None:
    job = kept(alone)
    before = contents(alone.place_of(job))
    passphrase: str | None = PASSPHRASE
    if not is_first:
        alone.seal(job, PASSPHRASE)
        alone.unseal(job, PASSPHRASE)
        passphrase = None

    class KilledError(BaseException):
        pass

    def killed(*_arguments: object, **_more: object) -> None:
        raise KilledError

    with monkeypatch.context() as broken:
        if step == "rmtree":
            broken.setattr(sealed_jobs.Path, "rename", killed)
        else:
            broken.setattr(sealed_jobs, step, killed)
        with pytest.raises(KilledError):
            alone.seal(job, passphrase)
    alone.ready()
    assert contents(alone.place_of(job)) == before
    alone.seal(
        job, passphrase if passphrase or sealed_jobs.is_opened(alone.place_of(job)) else None
    )
    assert clear_texts(alone.folder) == []
    alone.unseal(job, PASSPHRASE)
    assert contents(alone.place_of(job)) == before


def test_what_a_killed_run_left_in_clear_goes_at_the_next_start(
    alone: EnquiryStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = kept(alone)
    with monkeypatch.context() as broken:
        broken.setattr(sealed_jobs.shutil, "rmtree", lambda *_a, **_m: None)
        alone.seal(job, PASSPHRASE)
    assert clear_texts(alone.folder)
    alone.ready()
    assert clear_texts(alone.folder) == []


def test_the_name_of_a_sealed_job_is_given_to_no_other(alone: EnquiryStore) -> None:
    job = alone.add("wheel.dxf", b"x", added=NOW).id
    alone.seal(job, PASSPHRASE)
    assert alone.add("wheel.dxf", b"y", added=NOW).id == "wheel-2"
    alone.unseal(job, PASSPHRASE)
    with pytest.raises(InputError) as caught:
        alone.remove(job)
    assert caught.value.code == "job-opened"


def test_a_link_is_not_followed_out_of_the_job(alone: EnquiryStore, tmp_path: Path) -> None:
    job = kept(alone)
    (tmp_path / "elsewhere").write_text("x", encoding="utf-8")
    (alone.place_of(job) / "link").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(InputError, match="only files"):
        alone.seal(job, PASSPHRASE)


def test_a_guess_costs_what_it_is_said_to_cost() -> None:
    text = seals.Seal(salt=b"x" * 16, public=b"x" * 32, private=b"").text()
    cost = json.loads(text)["scrypt"]
    assert (cost["n"], cost["r"], cost["p"]) == COST == (131072, 8, 1)
    with pytest.raises(InputError, match="damaged"):
        seals.seal_of(text.replace('"r": 8', '"r": 8000'), where="here")


def test_the_cipher_opens_what_general_libraries_made_by_the_published_steps() -> None:
    """scrypt of the standard library, and the steps of RFC 7748, 5869 and 5116 by hand."""
    import hashlib
    import hmac

    from cryptography.hazmat.primitives.asymmetric.x25519 import (
        X25519PrivateKey,
        X25519PublicKey,
    )
    from cryptography.hazmat.primitives.ciphers.aead import AESGCM

    seal = seals.new_seal(PASSPHRASE)
    key, wrapped = seals.new_key(seal, b"job")
    secret = hashlib.scrypt(
        PASSPHRASE.encode(), salt=seal.salt, n=seal.n, r=seal.r, p=seal.p, dklen=32, maxmem=2**28
    )
    bare = AESGCM(secret).decrypt(seal.private[:12], seal.private[12:], seal.public)
    private = X25519PrivateKey.from_private_bytes(bare)
    shared = private.exchange(X25519PublicKey.from_public_bytes(wrapped[:32]))
    first = hmac.new(bytes(32), shared, hashlib.sha256).digest()
    info = b"kerfwright-seal 1" + wrapped[:32] + seal.public
    outer = hmac.new(first, info + b"\x01", hashlib.sha256).digest()
    assert AESGCM(outer).decrypt(wrapped[32:44], wrapped[44:], b"job") == key
