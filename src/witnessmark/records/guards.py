"""What the database itself refuses, on SQLite and PostgreSQL alike.

Acts, results, moves and hole fillings are append-only; a move's trigger keeps `holding` and refuses an overdraw,
an over-full place, a part taken in twice, a part split or joined, and a container put into itself. Nothing but
that trigger may write `holding`.

SQLite drops triggers when a table is rebuilt, so they go up after every migrate; `missing()` tells which are not there.
Every refusal starts with "witnessmark:" and reads as a sentence.
"""

from typing import Any

from django.db import connections

APPEND_ONLY = (
    "records_act",
    "records_actresult",
    "records_move",
    "records_holefilled",
    "records_holereading",
    "records_piecereading",
    "records_toldapart",
    "records_piecenature",
    "records_materialreading",
    "records_termtaken",
    "records_vendorsaid",
    "records_huntasked",
    "records_measuredsize",
    "records_jobleft",
    "records_leftthing",
    "records_leftafter",
    "records_hoursbooked",
    "records_hourstakenback",
    "records_jobfixed",
    "records_jobtied",
    "records_speedasked",
    "records_decision",
    "records_findingring",
    "records_findingfigure",
    "records_engineeringword",
    "records_choicefigure",
    "records_shophoursaid",
    "records_tagprinted",
    "records_soundnote",
    "records_traylooked",
    "records_routereason",
    "records_routefact",
    "records_certificatetimes",
    "records_shrinkseat",
    "records_calledout",
    "records_matbox",
    "records_sentcopy",
    "records_copyended",
    "records_whoseword",
    "records_readingstruck",
)
PREFIX = "witnessmark: "

# What a new move may not do: (condition over NEW, sentence). Both dialects read these.
_KIND_OF = "(SELECT kind FROM records_piece WHERE id = NEW.{0}_piece_id)"
_HOLDER_KIND = "(SELECT kind FROM records_holder WHERE id = NEW.{0}_holder_id)"
_TAKEN_IN = (
    "(SELECT COALESCE(SUM(count), 0) FROM records_move JOIN records_holder h ON h.id = from_holder_id"
    " WHERE from_piece_id = NEW.from_piece_id AND h.kind = 'origin')"
    " - (SELECT COALESCE(SUM(count), 0) FROM records_move JOIN records_holder h ON h.id = to_holder_id"
    " WHERE to_piece_id = NEW.from_piece_id AND h.kind = 'origin')"
)
_CHAIN = (
    "EXISTS (WITH RECURSIVE up(holder_id) AS (SELECT NEW.to_holder_id UNION"
    " SELECT held.holder_id FROM up JOIN records_holder h ON h.id = up.holder_id"
    " JOIN records_holding held ON held.piece_id = h.piece_id AND held.count > 0)"
    " SELECT 1 FROM up JOIN records_holder h ON h.id = up.holder_id WHERE h.piece_id = NEW.to_piece_id)"
)
_BETWEEN = (
    "(SELECT COALESCE(SUM(count), 0) FROM records_move"
    " WHERE from_piece_id = NEW.{0}_piece_id AND to_piece_id = NEW.{1}_piece_id)"
)
BEFORE_MOVE = (
    (
        f"({_KIND_OF.format('from')} = 'part' OR {_KIND_OF.format('to')} = 'part')"
        " AND (NEW.from_piece_id <> NEW.to_piece_id OR NEW.count <> 1)",
        "a part is one thing: it is not split, joined or counted",
    ),
    (
        f"{_KIND_OF.format('from')} = 'part' AND {_HOLDER_KIND.format('from')} = 'origin' AND {_TAKEN_IN} > 0",
        "this part is taken in already",
    ),
    (
        f"{_HOLDER_KIND.format('to')} IN ('container', 'assembly') AND {_CHAIN}",
        "a container cannot go into itself",
    ),
    (
        f"{_KIND_OF.format('from')} = 'mixed' AND NEW.from_piece_id <> NEW.to_piece_id"
        f" AND {_BETWEEN.format('from', 'to')} + NEW.count > {_BETWEEN.format('to', 'from')}",
        "no more is told to a bag than it gave",
    ),
    (
        f"{_KIND_OF.format('from')} = 'part' AND {_HOLDER_KIND.format('to')} = 'scrap'"
        f" AND {_HOLDER_KIND.format('from')} <> 'origin'"
        " AND (EXISTS (SELECT 1 FROM records_decision WHERE piece_id = NEW.from_piece_id)"
        " OR EXISTS (SELECT 1 FROM records_finding WHERE piece_id = NEW.from_piece_id AND state = 'open'))"
        " AND NOT EXISTS (SELECT 1 FROM records_piece p JOIN records_aircraft a ON a.id = p.aircraft_id"
        " WHERE p.id = NEW.from_piece_id AND a.handed_over_on IS NOT NULL)",
        "an original is kept as the pattern until the aircraft is handed over",
    ),
)
AFTER_MOVE = (
    (
        f"{_HOLDER_KIND.format('to')} = 'place' AND (SELECT SUM(count) FROM records_holding"
        " WHERE holder_id = NEW.to_holder_id) > (SELECT capacity FROM records_place WHERE holder_id = NEW.to_holder_id)",
        "this place is full",
    ),
)
_OVERDRAW = "there are not so many there"
_BY_HAND = "holdings are written by moves alone"


def _sqlite() -> dict[str, str]:
    guards: dict[str, str] = {}
    for table in APPEND_ONLY:
        for event in ("UPDATE", "DELETE"):
            name = f"wm_{table}_{event.lower()}"
            guards[name] = (
                f"CREATE TRIGGER {name} BEFORE {event} ON {table} BEGIN"
                f" SELECT RAISE(ABORT, '{PREFIX}what was recorded stays; say it anew'); END"
            )

    def refuse(condition: str, why: str) -> str:
        return f" SELECT RAISE(ABORT, '{PREFIX}{why}') WHERE {condition};"

    def hold(side: str, sign: str) -> str:
        key = f"piece_id = NEW.{side}_piece_id AND holder_id = NEW.{side}_holder_id"
        real = f"{_HOLDER_KIND.format(side)} <> 'origin'"
        return (
            f" INSERT OR IGNORE INTO records_holding (piece_id, holder_id, count, move_id)"
            f" SELECT NEW.{side}_piece_id, NEW.{side}_holder_id, 0, 0 WHERE {real};"
            f" UPDATE records_holding SET count = count {sign} NEW.count, move_id = NEW.id WHERE {key};"
        )

    overdraw = (
        f"{_HOLDER_KIND.format('from')} <> 'origin' AND COALESCE((SELECT count FROM records_holding"
        " WHERE piece_id = NEW.from_piece_id AND holder_id = NEW.from_holder_id), 0) < NEW.count"
    )
    guards["wm_move_before"] = (
        "CREATE TRIGGER wm_move_before BEFORE INSERT ON records_move BEGIN"
        + "".join(refuse(c, w) for c, w in BEFORE_MOVE)
        + refuse(overdraw, _OVERDRAW)
        + " END"
    )
    guards["wm_move_after"] = (
        "CREATE TRIGGER wm_move_after AFTER INSERT ON records_move BEGIN"
        + hold("from", "-")
        + hold("to", "+")
        + "".join(refuse(c, w) for c, w in AFTER_MOVE)
        + " END"
    )
    last = "(SELECT * FROM records_move WHERE id = NEW.move_id)"
    guards["wm_holding_insert"] = (
        "CREATE TRIGGER wm_holding_insert BEFORE INSERT ON records_holding"
        f" WHEN NEW.count <> 0 OR NEW.move_id <> 0 BEGIN SELECT RAISE(ABORT, '{PREFIX}{_BY_HAND}'); END"
    )
    # A legal write is the newest move, applied once, by its own count: nobody can pass that by hand.
    guards["wm_holding_update"] = (
        "CREATE TRIGGER wm_holding_update BEFORE UPDATE ON records_holding BEGIN"
        f" SELECT RAISE(ABORT, '{PREFIX}{_BY_HAND}') WHERE NEW.move_id <= OLD.move_id"
        " OR NEW.piece_id <> OLD.piece_id OR NEW.holder_id <> OLD.holder_id"
        " OR NEW.move_id <> (SELECT MAX(id) FROM records_move)"
        f" OR NOT EXISTS (SELECT 1 FROM {last} m WHERE"
        " (m.from_piece_id = OLD.piece_id AND m.from_holder_id = OLD.holder_id AND NEW.count = OLD.count - m.count)"
        " OR (m.to_piece_id = OLD.piece_id AND m.to_holder_id = OLD.holder_id AND NEW.count = OLD.count + m.count));"
        " END"
    )
    guards["wm_holding_delete"] = (
        "CREATE TRIGGER wm_holding_delete BEFORE DELETE ON records_holding"
        f" BEGIN SELECT RAISE(ABORT, '{PREFIX}{_BY_HAND}'); END"
    )
    return guards


def _postgresql() -> dict[str, str]:
    def refuse(condition: str, why: str) -> str:
        return f" IF {condition} THEN RAISE EXCEPTION '{PREFIX}{why}' USING ERRCODE = 'check_violation'; END IF;"

    def hold(side: str, sign: str) -> str:
        key = f"piece_id = NEW.{side}_piece_id AND holder_id = NEW.{side}_holder_id"
        return (
            f" IF {_HOLDER_KIND.format(side)} <> 'origin' THEN"
            f" INSERT INTO records_holding (piece_id, holder_id, count, move_id)"
            f" VALUES (NEW.{side}_piece_id, NEW.{side}_holder_id, 0, 0) ON CONFLICT DO NOTHING;"
            f" UPDATE records_holding SET count = count {sign} NEW.count, move_id = NEW.id WHERE {key}; END IF;"
        )

    def function(name: str, body: str) -> str:
        return f"CREATE OR REPLACE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $wm$ BEGIN{body} END $wm$;"

    guards: dict[str, str] = {}
    for table in APPEND_ONLY:
        name = f"wm_{table}_append_only"
        guards[name] = function(name, refuse("TRUE", "what was recorded stays; say it anew") + " RETURN NULL;") + (
            f" CREATE TRIGGER {name} BEFORE UPDATE OR DELETE ON {table} FOR EACH ROW EXECUTE FUNCTION {name}();"
            f" CREATE TRIGGER {name}_all BEFORE TRUNCATE ON {table} FOR EACH STATEMENT EXECUTE FUNCTION {name}();"
        )
    # Two people reach into one bag at once: the pieces are locked in the order of their numbers, the places after.
    lock = (
        " PERFORM 1 FROM records_piece WHERE id IN (NEW.from_piece_id, NEW.to_piece_id) ORDER BY id FOR UPDATE;"
        " PERFORM 1 FROM records_place WHERE holder_id = NEW.to_holder_id FOR UPDATE;"
    )
    overdraw = (
        f"{_HOLDER_KIND.format('from')} <> 'origin' AND COALESCE((SELECT count FROM records_holding"
        " WHERE piece_id = NEW.from_piece_id AND holder_id = NEW.from_holder_id), 0) < NEW.count"
    )
    guards["wm_move_before"] = function(
        "wm_move_before",
        lock + "".join(refuse(c, w) for c, w in BEFORE_MOVE) + refuse(overdraw, _OVERDRAW) + " RETURN NEW;",
    ) + (" CREATE TRIGGER wm_move_before BEFORE INSERT ON records_move FOR EACH ROW EXECUTE FUNCTION wm_move_before();")
    guards["wm_move_after"] = (
        function(
            "wm_move_after",
            hold("from", "-") + hold("to", "+") + "".join(refuse(c, w) for c, w in AFTER_MOVE) + " RETURN NULL;",
        )
        + " CREATE TRIGGER wm_move_after AFTER INSERT ON records_move FOR EACH ROW EXECUTE FUNCTION wm_move_after();"
    )
    guards["wm_holding"] = function(
        "wm_holding",
        refuse("pg_trigger_depth() < 2", _BY_HAND) + " IF TG_OP = 'DELETE' THEN RETURN OLD; END IF; RETURN NEW;",
    ) + (
        " CREATE TRIGGER wm_holding BEFORE INSERT OR UPDATE OR DELETE ON records_holding"
        " FOR EACH ROW EXECUTE FUNCTION wm_holding();"
    )
    return guards


def wanted(vendor: str) -> dict[str, str]:
    """Every guard by name, with the SQL that puts it up."""
    return _sqlite() if vendor == "sqlite" else _postgresql()


def _standing(using: str) -> dict[str, str]:
    connection = connections[using]
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute(
                "SELECT name, tbl_name FROM sqlite_master WHERE type = 'trigger' AND name LIKE 'wm!_%' ESCAPE '!'"
            )
        else:
            cursor.execute(
                "SELECT tgname, tgrelid::regclass::text FROM pg_trigger WHERE NOT tgisinternal AND tgname LIKE 'wm!_%' ESCAPE '!'"
            )
        return dict(cursor.fetchall())


def missing(using: str = "default") -> list[str]:
    """Name the guards that are not up."""
    return sorted(set(wanted(connections[using].vendor)) - set(_standing(using)))


def lift(using: str = "default") -> None:
    """Take the guards down: only for the teardown of tests that empty the tables."""
    connection = connections[using]
    standing = _standing(using)
    with connection.cursor() as cursor:
        for name, table in standing.items():
            on = "" if connection.vendor == "sqlite" else f" ON {table}"
            cursor.execute(f"DROP TRIGGER IF EXISTS {name}{on}")


def put_up(using: str = "default") -> None:
    """Put every guard up anew."""
    lift(using)
    connection = connections[using]
    with connection.cursor() as cursor:
        for sql in wanted(connection.vendor).values():
            cursor.execute(sql)


def after_migrate(using: str = "default", **_: Any) -> None:
    """Signal receiver: runs when the tables stand."""
    connection = connections[using]
    if "records_holding" in connection.introspection.table_names():
        put_up(using)
