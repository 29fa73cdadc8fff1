"""Every form of the index becomes the newest, and that is the one that is asked."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from tests.unit.adapters.index.test_job_index import NOW, ids

from kerfwright.adapters.enquiry_store import EnquiryStore, open_store
from kerfwright.adapters.index.opening import IndexFaultError, engine_of, url_of
from kerfwright.adapters.index.query import Query
from kerfwright.adapters.index.schema import HEAD, VERSION_TABLE, metadata
from kerfwright.adapters.job_folder import write_job
from kerfwright.adapters.owned_files import digest


def config() -> Config:
    found = Config()
    found.set_main_option("script_location", "kerfwright.adapters.index:migrations")
    found.set_main_option("path_separator", "os")
    return found


FORMS = [one.revision for one in ScriptDirectory.from_config(config()).walk_revisions()][::-1]


def test_the_newest_migration_is_the_one_that_is_looked_for() -> None:
    assert ScriptDirectory.from_config(config()).get_heads() == [HEAD]


def test_migrations_leave_the_tables_that_are_asked(store: EnquiryStore) -> None:
    store.listed(Query())
    with store.index.reading() as connection:
        context = MigrationContext.configure(connection, opts={"version_table": VERSION_TABLE})
        assert compare_metadata(context, metadata) == []


@pytest.mark.parametrize("form", FORMS)
def test_an_index_of_each_earlier_form_is_brought_up_to_date(
    store: EnquiryStore, form: str
) -> None:
    one = store.add("wheel.dxf", b"x", added=NOW)
    write_job(store.place_of(one.id), {"plan.json": "{}"}, refused=True)
    store.listed(Query())
    with store.index.writing() as connection:
        settings = config()
        settings.attributes["connection"] = connection
        command.downgrade(settings, "base")
        command.upgrade(settings, form)
    store.index.close()
    store.index.look_again()
    assert ids(store) == ["wheel"]
    assert len(store.index.holders(digest("{}"))) == 1


def test_an_index_of_a_later_version_is_refused_and_can_be_built_anew(
    store: EnquiryStore,
) -> None:
    store.add("wheel.dxf", b"x", added=NOW)
    store.listed(Query())
    with store.index.writing() as connection:
        connection.execute(sa.text("UPDATE kw_schema SET version_num = '9999'"))
    store.index.close()
    with pytest.raises(IndexFaultError) as caught:
        store.listed(Query())
    assert caught.value.code == "index-newer"
    store.index.rebuild()
    assert ids(store) == ["wheel"]


def test_a_migration_that_fails_leaves_the_index_as_it_was(tmp_path: Path) -> None:
    engine = engine_of(url_of(tmp_path, None))
    with engine.begin() as connection:
        connection.execute(sa.text("CREATE TABLE kw_jobs (id TEXT)"))
    store = open_store(tmp_path)
    with pytest.raises(IndexFaultError):
        store.index.listed(Query())
    with engine.begin() as connection:
        assert sa.inspect(connection).get_table_names() == ["kw_jobs"]
    engine.dispose()
    store.index.close()


def test_two_indexes_of_one_process_are_made_at_once(tmp_path: Path) -> None:
    stores = [open_store(tmp_path / str(number)) for number in range(4)]
    found: list[list[str]] = []

    def work(store: EnquiryStore) -> None:
        store.ready()
        store.add("wheel.dxf", b"x", added=NOW)
        found.append(ids(store))
        store.index.close()

    threads = [threading.Thread(target=work, args=(store,)) for store in stores]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert found == [["wheel"]] * 4
