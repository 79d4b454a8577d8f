-- Vehicles of an account, every state they had, and their calibrations.

CREATE TABLE vehicles (
  id              TEXT COLLATE "C" PRIMARY KEY CHECK (length(id) = 36),
  account_id      TEXT COLLATE "C" NOT NULL REFERENCES accounts (id),
  -- The state that holds: its profile stands in vehicle_revisions.
  version         BIGINT NOT NULL CHECK (version BETWEEN 1 AND 9007199254740991),
  reference       TEXT COLLATE "C" CHECK (octet_length(reference) BETWEEN 1 AND 400),
  -- Folded for comparison; the profile keeps what was written.
  make_key        TEXT COLLATE "C" CHECK (octet_length(make_key) BETWEEN 1 AND 8000),
  model_key       TEXT COLLATE "C" CHECK (octet_length(model_key) BETWEEN 1 AND 8000),
  created_at_ms   BIGINT NOT NULL CHECK (created_at_ms BETWEEN 0 AND 253402300799999),
  changed_at_ms   BIGINT NOT NULL CHECK (changed_at_ms BETWEEN 0 AND 253402300799999),
  deleted_at_ms   BIGINT CHECK (deleted_at_ms BETWEEN 0 AND 253402300799999)
);

CREATE UNIQUE INDEX vehicles_by_reference ON vehicles (account_id, reference)
  WHERE deleted_at_ms IS NULL AND reference IS NOT NULL;
CREATE INDEX vehicles_by_account ON vehicles (account_id, id) WHERE deleted_at_ms IS NULL;
CREATE INDEX vehicles_by_make ON vehicles (account_id, make_key, model_key, id) WHERE deleted_at_ms IS NULL;
CREATE INDEX vehicles_by_model ON vehicles (account_id, model_key, id) WHERE deleted_at_ms IS NULL;

CREATE TABLE vehicle_revisions (
  vehicle_id      TEXT COLLATE "C" NOT NULL REFERENCES vehicles (id),
  version         BIGINT NOT NULL CHECK (version BETWEEN 1 AND 9007199254740991),
  change          TEXT COLLATE "C" NOT NULL CHECK (change IN ('created', 'replaced', 'deleted')),
  at_ms           BIGINT NOT NULL CHECK (at_ms BETWEEN 0 AND 253402300799999),
  key_id          TEXT COLLATE "C" NOT NULL REFERENCES keys (id),
  -- JSON text, sent as it is; every state but the deletion has one.
  profile         TEXT COLLATE "C" CHECK (length(profile) BETWEEN 2 AND 67108864 AND json_typeof(profile::json) = 'object'),
  CHECK ((change = 'deleted') = (profile IS NULL)),
  PRIMARY KEY (vehicle_id, version)
);

CREATE TABLE calibrations (
  id              TEXT COLLATE "C" PRIMARY KEY CHECK (length(id) = 36),
  vehicle_id      TEXT COLLATE "C" NOT NULL REFERENCES vehicles (id),
  version         BIGINT NOT NULL CHECK (version BETWEEN 1 AND 9007199254740991),
  path            TEXT COLLATE "C" NOT NULL CHECK (octet_length(path) BETWEEN 1 AND 400),
  accepted        BIGINT NOT NULL CHECK (accepted IN (0, 1)),
  -- JSON texts: the readings as given, and what was computed from them then.
  request         TEXT COLLATE "C" NOT NULL CHECK (length(request) BETWEEN 2 AND 67108864 AND json_typeof(request::json) = 'object'),
  result          TEXT COLLATE "C" NOT NULL CHECK (length(result) BETWEEN 2 AND 67108864 AND json_typeof(result::json) = 'object'),
  key_id          TEXT COLLATE "C" NOT NULL REFERENCES keys (id),
  created_at_ms   BIGINT NOT NULL CHECK (created_at_ms BETWEEN 0 AND 253402300799999),
  changed_at_ms   BIGINT NOT NULL CHECK (changed_at_ms BETWEEN 0 AND 253402300799999)
);

CREATE INDEX calibrations_by_vehicle ON calibrations (vehicle_id, id);
CREATE INDEX calibrations_accepted ON calibrations (vehicle_id, path, id) WHERE accepted = 1;
