-- A store as version 3 of the tables wrote it: begun as version 1, upgraded by way of all between,
-- a row or two of what each version brought, as text. Made by `sqlite3.Connection.iterdump`.
PRAGMA user_version = 3;
BEGIN TRANSACTION;
CREATE TABLE checkpoint (
  stack TEXT PRIMARY KEY REFERENCES stack (id),
  at INTEGER NOT NULL,
  fingerprint TEXT NOT NULL,
  state BLOB NOT NULL
) STRICT, WITHOUT ROWID;
INSERT INTO "checkpoint" VALUES('R7',1781287200,'digest',X'007374617465');
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
INSERT INTO "decision" VALUES(1,'key','Amos','R7','too_fast','first',1781287200,1.5,1781348400,1781373600);
CREATE TABLE ensemble (
  place TEXT PRIMARY KEY,
  issued_at INTEGER NOT NULL,
  members BLOB NOT NULL
) STRICT, WITHOUT ROWID
;
INSERT INTO "ensemble" VALUES('41.98,-87.90',1781287200,X'006D656D62657273');
CREATE TABLE event (
  id INTEGER PRIMARY KEY,
  stack TEXT NOT NULL REFERENCES stack (id),
  time INTEGER NOT NULL,
  kind TEXT NOT NULL,
  detail TEXT NOT NULL
) STRICT;
INSERT INTO "event" VALUES(1,'R7',1781290800,'covered','burlap');
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
INSERT INTO "foretold" VALUES('41.98,-87.90','nws',1781298000,1781287200,31.5,0.25,6.0,0.1);
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
INSERT INTO "outbox" VALUES(1,'Hot dry wind','Hang shade.','The whole story.
','failed_for_now',1,1781287200,1781287500,0);
CREATE TABLE outcome (
  id INTEGER PRIMARY KEY,
  outbox INTEGER NOT NULL REFERENCES outbox (id) ON DELETE CASCADE,
  at INTEGER NOT NULL,
  outcome TEXT NOT NULL,
  detail TEXT NOT NULL
) STRICT;
INSERT INTO "outcome" VALUES(1,1,1781287200,'failed_for_now','busy');
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
INSERT INTO "service" VALUES('41.98,-87.90','met_norway',NULL,'"abc"','Fri, 12 Jun 2026 18:00:00 GMT',1781290800,1781200800,1781287200,1781287200,NULL,'');
INSERT INTO "service" VALUES('41.98,-87.90','nws','https://weather.test/gridpoints/LOT/76,73',NULL,NULL,NULL,NULL,NULL,NULL,NULL,'');
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
, traits TEXT NOT NULL DEFAULT '') STRICT, WITHOUT ROWID;
INSERT INTO "stack" VALUES('Q3','white_oak','8/4',1781287200,'barn',0.01905,1.2192,'',NULL,'heart quartersawn');
INSERT INTO "stack" VALUES('R7','red_oak','4/4',1781287200,'creek flat',0.0254,1.2192,'pile_roof',78.0,'');
INSERT INTO "stack" VALUES('W2','black_walnut','27mm',1781287200,'barn',0.0254,1.2192,'',NULL,'');
CREATE TABLE "weather_hour" (
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
INSERT INTO "weather_hour" VALUES('41.98,-87.90','met_norway',1781287200,30.0,0.3,5.0,180.0,8.0,700.0,0.2,0.5,1781287200);
INSERT INTO "weather_hour" VALUES('41.98,-87.90','nws',1781287200,31.5,0.25,6.0,NULL,NULL,810.0,0.1,0.0,1781287200);
CREATE INDEX decision_subject ON decision (contact, stack, hazard);
CREATE INDEX outbox_open ON outbox (next_try_at) WHERE next_try_at IS NOT NULL;
CREATE INDEX outcome_outbox ON outcome (outbox);
COMMIT;
