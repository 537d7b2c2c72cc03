"""A table of what is known of a revision is copied into the next one, or is named here."""

from ledger.store.tables import FACTS, OF_REVISION, Fact, LockFact, PartFact, StampFact

NOT_COPIED = {PartFact, LockFact}  # the revision itself, and that it is locked


def test_a_table_with_a_number_and_a_revision_says_whether_it_is_copied():
    keyed = {t for t in FACTS if {"number", "revision"} <= set(t.__table__.primary_key.columns.keys())}
    assert keyed - NOT_COPIED == set(OF_REVISION)
    assert len(keyed) > 8


def test_every_table_of_facts_is_rebuilt_and_compared():
    assert {table.__tablename__ for table in (*FACTS, StampFact)} == set(Fact.metadata.tables)


def test_every_act_can_be_undone_but_those_that_are_named_here():
    """An act that undo does not know is passed over, and the entry before it is undone in its place."""
    from ledger.acts import ACTS

    never = {"open_job", "undo", "keep_packet"}
    assert {kind for (kind, _), act in ACTS.items() if not (act.signed or act.concerns)} == never
    for act in ACTS.values():
        assert act.concerns is None or act.concerns[1] in act.model_fields


def test_every_table_with_what_an_act_concerns_says_so():
    """One that does not would keep its rows when the act that wrote them is undone."""
    named = {"number": "part", "connection": "connection", "vendor": "vendor"}
    of_signed_acts = {"fact_lock", "fact_permit", "fact_signature"}
    for table in FACTS:
        keys = [c.name for c in table.__table__.primary_key.columns if c.name in named]
        if keys and table.__tablename__ not in of_signed_acts:
            assert table.concerns == (named[keys[0]], keys[0]), table
    assert sum(table.concerns is not None for table in FACTS) > 20
