"""A table of what is known of a revision is copied into the next one, or is named here."""

from ledger.store.tables import FACTS, OF_REVISION, Fact, LockFact, PartFact, StampFact

NOT_COPIED = {PartFact, LockFact}  # the revision itself, and that it is locked


def test_a_table_with_a_number_and_a_revision_says_whether_it_is_copied():
    keyed = {t for t in FACTS if {"number", "revision"} <= set(t.__table__.primary_key.columns.keys())}
    assert keyed - NOT_COPIED == set(OF_REVISION)
    assert len(keyed) > 8


def test_every_table_of_facts_is_rebuilt_and_compared():
    assert {table.__tablename__ for table in (*FACTS, StampFact)} == set(Fact.metadata.tables)


def test_every_act_and_every_table_of_a_revision_can_be_undone():
    """An act that undo does not know is passed over, and the entry before it is undone in its place."""
    from ledger.acts import ACTS
    from ledger.acts.undo import _TABLES, NAMED
    from ledger.store.tables import OF_REVISION

    never = {"open_job", "undo", "keep_packet"}
    assert {kind for (kind, _), act in ACTS.items() if not act.signed} - set(NAMED) == never
    assert [table for table in OF_REVISION if table not in _TABLES["part"]] == []
