-- Vehicles of an account, every state they had, and their calibrations.
-- Text of callers is bounded in bytes: length() stops counting at a NUL.

CREATE TABLE vehicles (
  id              TEXT PRIMARY KEY CHECK (length(id) = 36),
  account_id      TEXT NOT NULL REFERENCES accounts (id),
  -- The state that holds: its profile stands in vehicle_revisions.
  version         INTEGER NOT NULL CHECK (version BETWEEN 1 AND 9007199254740991),
  reference       TEXT CHECK (octet_length(reference) BETWEEN 1 AND 400),
  -- Folded for comparison; the profile keeps what was written.
  make_key        TEXT CHECK (octet_length(make_key) BETWEEN 1 AND 8000),
  model_key       TEXT CHECK (octet_length(model_key) BETWEEN 1 AND 8000),
  created_at_ms   INTEGER NOT NULL CHECK (created_at_ms BETWEEN 0 AND 253402300799999),
  changed_at_ms   INTEGER NOT NULL CHECK (changed_at_ms BETWEEN 0 AND 253402300799999),
  deleted_at_ms   INTEGER CHECK (deleted_at_ms BETWEEN 0 AND 253402300799999)
) STRICT, WITHOUT ROWID;

CREATE UNIQUE INDEX vehicles_by_reference ON vehicles (account_id, reference)
  WHERE deleted_at_ms IS NULL AND reference IS NOT NULL;
CREATE INDEX vehicles_by_account ON vehicles (account_id, id) WHERE deleted_at_ms IS NULL;
CREATE INDEX vehicles_by_make ON vehicles (account_id, make_key, model_key, id) WHERE deleted_at_ms IS NULL;
CREATE INDEX vehicles_by_model ON vehicles (account_id, model_key, id) WHERE deleted_at_ms IS NULL;

CREATE TABLE vehicle_revisions (
  vehicle_id      TEXT NOT NULL REFERENCES vehicles (id),
  version         INTEGER NOT NULL CHECK (version BETWEEN 1 AND 9007199254740991),
  change          TEXT NOT NULL CHECK (change IN ('created', 'replaced', 'deleted')),
  at_ms           INTEGER NOT NULL CHECK (at_ms BETWEEN 0 AND 253402300799999),
  key_id          TEXT NOT NULL REFERENCES keys (id),
  -- JSON text, sent as it is; every state but the deletion has one.
  profile         TEXT CHECK (length(profile) BETWEEN 2 AND 67108864 AND json_valid(profile)),
  CHECK ((change = 'deleted') = (profile IS NULL)),
  PRIMARY KEY (vehicle_id, version)
) STRICT;

CREATE TABLE calibrations (
  id              TEXT PRIMARY KEY CHECK (length(id) = 36),
  vehicle_id      TEXT NOT NULL REFERENCES vehicles (id),
  version         INTEGER NOT NULL CHECK (version BETWEEN 1 AND 9007199254740991),
  path            TEXT NOT NULL CHECK (octet_length(path) BETWEEN 1 AND 400),
  accepted        INTEGER NOT NULL CHECK (accepted IN (0, 1)),
  -- JSON texts: the readings as given, and what was computed from them then.
  request         TEXT NOT NULL CHECK (length(request) BETWEEN 2 AND 67108864 AND json_valid(request)),
  result          TEXT NOT NULL CHECK (length(result) BETWEEN 2 AND 67108864 AND json_valid(result)),
  key_id          TEXT NOT NULL REFERENCES keys (id),
  created_at_ms   INTEGER NOT NULL CHECK (created_at_ms BETWEEN 0 AND 253402300799999),
  changed_at_ms   INTEGER NOT NULL CHECK (changed_at_ms BETWEEN 0 AND 253402300799999)
) STRICT;

CREATE INDEX calibrations_by_vehicle ON calibrations (vehicle_id, id);
CREATE INDEX calibrations_accepted ON calibrations (vehicle_id, path, id) WHERE accepted = 1;
