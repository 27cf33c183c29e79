"""The tables of the database file, and how each version of them came of the one before."""

# Times are unix seconds. Unknown weather is NULL. Decisions, events and outcomes are only added.
# outbox.next_try_at: 0 is at once, NULL is never again; so it alone says whether a row is open.
# outbox.in_doubt: the message may have arrived; maybe_repeat carries that over the next attempt.
_FIRST_TABLES = """
CREATE TABLE weather_hour (
  place TEXT NOT NULL,
  time_utc INTEGER NOT NULL,
  temp_c REAL,
  rh REAL,
  wind_ms REAL,
  wind_dir_deg REAL,
  gust_ms REAL,
  ghi_wm2 REAL,
  cloud REAL,
  rain_mm REAL,
  source TEXT NOT NULL,
  issued_at INTEGER NOT NULL,
  PRIMARY KEY (place, time_utc)
) STRICT, WITHOUT ROWID;

CREATE TABLE cell (
  place TEXT PRIMARY KEY,
  url TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE stack (
  id TEXT PRIMARY KEY,
  species TEXT NOT NULL,
  thickness TEXT NOT NULL,
  stacked_at INTEGER NOT NULL,
  site TEXT NOT NULL,
  sticker_m REAL NOT NULL,
  pack_width_m REAL NOT NULL,
  measures TEXT NOT NULL,
  green_mc_pct REAL
) STRICT, WITHOUT ROWID;

CREATE TABLE event (
  id INTEGER PRIMARY KEY,
  stack TEXT NOT NULL REFERENCES stack (id),
  time INTEGER NOT NULL,
  kind TEXT NOT NULL,
  detail TEXT NOT NULL
) STRICT;

CREATE TABLE checkpoint (
  stack TEXT PRIMARY KEY REFERENCES stack (id),
  at INTEGER NOT NULL,
  fingerprint TEXT NOT NULL,
  state BLOB NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE decision (
  id INTEGER PRIMARY KEY,
  key TEXT NOT NULL UNIQUE,
  contact TEXT NOT NULL,
  stack TEXT NOT NULL,
  hazard TEXT NOT NULL,
  reason TEXT NOT NULL,
  made_at INTEGER NOT NULL,
  severity REAL NOT NULL,
  onset INTEGER,
  useful_until INTEGER NOT NULL
) STRICT;
CREATE INDEX decision_subject ON decision (contact, stack, hazard);

CREATE TABLE outbox (
  id INTEGER PRIMARY KEY REFERENCES decision (id) ON DELETE CASCADE,
  subject TEXT NOT NULL,
  text TEXT NOT NULL,
  story TEXT NOT NULL,
  state TEXT NOT NULL DEFAULT 'pending',
  attempts INTEGER NOT NULL DEFAULT 0,
  tried_at INTEGER,
  next_try_at INTEGER DEFAULT 0,
  maybe_repeat INTEGER NOT NULL DEFAULT 0,
  in_doubt INTEGER NOT NULL AS (maybe_repeat OR state IN ('sending', 'unknown'))
) STRICT;
CREATE INDEX outbox_open ON outbox (next_try_at) WHERE next_try_at IS NOT NULL;

CREATE TABLE outcome (
  id INTEGER PRIMARY KEY,
  outbox INTEGER NOT NULL REFERENCES outbox (id) ON DELETE CASCADE,
  at INTEGER NOT NULL,
  outcome TEXT NOT NULL,
  detail TEXT NOT NULL
) STRICT;
CREATE INDEX outcome_outbox ON outcome (outbox);
"""

# An hour is kept as each service last told it. `service` remembers how each is to be asked, and
# `foretold` some hours of each issue, to hold forecasts against what came; `ensemble` is the newest
# one of a place.
_MANY_SERVICES = """
CREATE TABLE told_hour (
  place TEXT NOT NULL,
  source TEXT NOT NULL,
  time_utc INTEGER NOT NULL,
  temp_c REAL,
  rh REAL,
  wind_ms REAL,
  wind_dir_deg REAL,
  gust_ms REAL,
  ghi_wm2 REAL,
  cloud REAL,
  rain_mm REAL,
  issued_at INTEGER NOT NULL,
  PRIMARY KEY (place, source, time_utc)
) STRICT, WITHOUT ROWID;
INSERT INTO told_hour SELECT place, source, time_utc, temp_c, rh, wind_ms, wind_dir_deg, gust_ms,
  ghi_wm2, cloud, rain_mm, issued_at FROM weather_hour;
DROP TABLE weather_hour;
ALTER TABLE told_hour RENAME TO weather_hour;

CREATE TABLE service (
  place TEXT NOT NULL,
  name TEXT NOT NULL,
  cell TEXT,
  etag TEXT,
  last_modified TEXT,
  expires_at INTEGER,
  first_asked_at INTEGER,
  asked_at INTEGER,
  answered_at INTEGER,
  refused_until INTEGER,
  error TEXT NOT NULL DEFAULT '',
  PRIMARY KEY (place, name)
) STRICT, WITHOUT ROWID;
INSERT INTO service (place, name, cell) SELECT place, 'nws', url FROM cell;
DROP TABLE cell;

CREATE TABLE foretold (
  place TEXT NOT NULL,
  source TEXT NOT NULL,
  time_utc INTEGER NOT NULL,
  issued_at INTEGER NOT NULL,
  temp_c REAL,
  rh REAL,
  wind_ms REAL,
  cloud REAL,
  PRIMARY KEY (place, source, time_utc, issued_at)
) STRICT, WITHOUT ROWID;

CREATE TABLE ensemble (
  place TEXT PRIMARY KEY,
  issued_at INTEGER NOT NULL,
  members BLOB NOT NULL
) STRICT, WITHOUT ROWID
"""

# A lot's first columns are as it was registered; sawn_at and ended_at are set once.
_LOTS = """
CREATE TABLE lot (
  id TEXT PRIMARY KEY,
  species TEXT NOT NULL,
  felled_at INTEGER NOT NULL,
  site TEXT NOT NULL,
  volume TEXT NOT NULL,
  end_coated INTEGER NOT NULL,
  stored TEXT NOT NULL,
  sawn_at INTEGER,
  ended_at INTEGER
) STRICT, WITHOUT ROWID
"""

_HTML = "ALTER TABLE outbox ADD COLUMN html TEXT NOT NULL DEFAULT ''"

# A warning that never reached its contact while it was of use.
# `job` holds when each of the watch's own jobs was last done to its end.
_UNATTENDED = """
ALTER TABLE decision ADD COLUMN unheard INTEGER NOT NULL DEFAULT 0;
CREATE TABLE job (
  name TEXT PRIMARY KEY,
  done_at INTEGER NOT NULL
) STRICT, WITHOUT ROWID
"""

# `seal` holds a checksum of each row that cannot be had again, see `drywind.db.seals`; `recovery`
# what was found damaged at a start, and what became of it. An issue's hours come to lie side by
# side in `foretold`: to write one then takes two pages, not one for each hour.
_SEALS = """
CREATE TABLE seal (
  tbl TEXT NOT NULL,
  key TEXT NOT NULL,
  crc INTEGER NOT NULL,
  PRIMARY KEY (tbl, key)
) STRICT, WITHOUT ROWID;

CREATE TABLE recovery (
  id INTEGER PRIMARY KEY,
  at INTEGER NOT NULL,
  kind TEXT NOT NULL,
  backup_at INTEGER,
  detail TEXT NOT NULL
) STRICT;

CREATE TABLE foretold_by_issue (
  place TEXT NOT NULL,
  source TEXT NOT NULL,
  issued_at INTEGER NOT NULL,
  time_utc INTEGER NOT NULL,
  temp_c REAL,
  rh REAL,
  wind_ms REAL,
  cloud REAL,
  PRIMARY KEY (place, source, issued_at, time_utc)
) STRICT, WITHOUT ROWID;
INSERT INTO foretold_by_issue SELECT place, source, issued_at, time_utc, temp_c, rh, wind_ms, cloud
  FROM foretold;
DROP TABLE foretold;
ALTER TABLE foretold_by_issue RENAME TO foretold
"""

# What is to be sawn of a lot; and years a person handed in, which stand for what is to come.
_SAW_DAYS = """
ALTER TABLE lot ADD COLUMN thicknesses TEXT NOT NULL DEFAULT '';
CREATE TABLE past_year (
  place TEXT NOT NULL,
  year INTEGER NOT NULL,
  name TEXT NOT NULL,
  lat REAL NOT NULL,
  lon REAL NOT NULL,
  is_typical INTEGER NOT NULL,
  hours BLOB NOT NULL,
  PRIMARY KEY (place, year, name)
) STRICT, WITHOUT ROWID
"""

# `learned` is what weighings taught of a stack, by which priors and model, with what was simulated
# for it; `logged_hour` is what loggers at a site measured, and `site_offset` what they taught.
_LEARNED = """
CREATE TABLE learned (
  stack TEXT PRIMARY KEY REFERENCES stack (id),
  made_at INTEGER NOT NULL,
  version TEXT NOT NULL,
  fingerprint TEXT NOT NULL,
  result TEXT NOT NULL,
  simulated BLOB NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE logged_hour (
  site TEXT NOT NULL,
  time_utc INTEGER NOT NULL,
  temp_c REAL,
  rh REAL,
  wind_ms REAL,
  PRIMARY KEY (site, time_utc)
) STRICT, WITHOUT ROWID;

CREATE TABLE site_offset (
  site TEXT PRIMARY KEY,
  made_at INTEGER NOT NULL,
  result TEXT NOT NULL
) STRICT, WITHOUT ROWID
"""

UPGRADES = (
    _FIRST_TABLES,
    "ALTER TABLE stack ADD COLUMN traits TEXT NOT NULL DEFAULT ''",
    _MANY_SERVICES,
    _LOTS,
    _HTML,
    _UNATTENDED,
    _SEALS,
    _SAW_DAYS,
    _LEARNED,
)
"""What leads from each version of the file to the next, beginning with an empty one. Only ever
added to: each file has been through all of them. No statement holds a semicolon of its own."""

VERSION = len(UPGRADES)
"""Version of the tables as they are now, kept in the file as ``PRAGMA user_version``."""

SEALED_SINCE = UPGRADES.index(_SEALS) + 1
"""The first version that seals its rows."""
