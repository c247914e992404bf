"""Check that migrations make what the classes say."""

from __future__ import annotations

from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext

from wherestood.daybook import Daybook
from wherestood.daybook.schema import newest_schema, schema_of
from wherestood.daybook.tables import ITEMS, Base


def test_migrations_make_the_tables_of_the_classes(daybook: Daybook) -> None:
    with daybook.engine.connect() as connection:
        context = MigrationContext.configure(connection)
        assert compare_metadata(context, Base.metadata) == []
        assert schema_of(connection) == newest_schema()


def test_every_table_but_the_journal_and_the_index_is_journalled() -> None:
    assert set(Base.metadata.tables) - set(ITEMS) == {"journal", "words"}


def test_every_column_a_person_fills_says_what_it_is_about() -> None:
    made_by_the_daybook = {
        "id", "removed", "withdrawn", "revision", "about_table", "about_id",
    }  # fmt: skip
    for table in ITEMS:
        for column in Base.metadata.tables[table].columns:
            if column.name not in made_by_the_daybook:
                assert column.info.get("about"), f"{table}.{column.name}"
