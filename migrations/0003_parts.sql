-- Parts, fit statements and tire sizes: shared by every account of the instance, each with its author.

CREATE TABLE parts (
  -- Order of recording; the text index goes by it.
  number          INTEGER PRIMARY KEY,
  id              TEXT NOT NULL UNIQUE CHECK (length(id) = 36),
  account_id      TEXT NOT NULL REFERENCES accounts (id),
  -- The state that holds: its content stands in part_revisions.
  version         INTEGER NOT NULL CHECK (version BETWEEN 1 AND 9007199254740991),
  kind            TEXT NOT NULL CHECK (length(kind) BETWEEN 1 AND 40),
  -- Folded for comparison; the content keeps what was written.
  maker_key       TEXT CHECK (octet_length(maker_key) BETWEEN 1 AND 8000),
  created_at_ms   INTEGER NOT NULL CHECK (created_at_ms BETWEEN 0 AND 253402300799999),
  changed_at_ms   INTEGER NOT NULL CHECK (changed_at_ms BETWEEN 0 AND 253402300799999),
  deleted_at_ms   INTEGER CHECK (deleted_at_ms BETWEEN 0 AND 253402300799999)
) STRICT;

CREATE INDEX parts_by_kind ON parts (kind, number) WHERE deleted_at_ms IS NULL;
CREATE INDEX parts_by_maker ON parts (maker_key, number) WHERE deleted_at_ms IS NULL;
CREATE INDEX parts_by_maker_and_kind ON parts (maker_key, kind, number) WHERE deleted_at_ms IS NULL;

CREATE TABLE part_revisions (
  part            INTEGER NOT NULL REFERENCES parts (number),
  version         INTEGER NOT NULL CHECK (version BETWEEN 1 AND 9007199254740991),
  change          TEXT NOT NULL CHECK (change IN ('created', 'replaced', 'deleted')),
  at_ms           INTEGER NOT NULL CHECK (at_ms BETWEEN 0 AND 253402300799999),
  key_id          TEXT NOT NULL REFERENCES keys (id),
  -- JSON text, sent as it is; every state but the deletion has one.
  content         TEXT CHECK (length(content) BETWEEN 2 AND 1048576 AND json_valid(content)),
  CHECK ((change = 'deleted') = (content IS NULL)),
  PRIMARY KEY (part, version)
) STRICT;

-- Where parts meet others, of parts that are not deleted: what must be equal, then what may differ a little.
CREATE TABLE part_interfaces (
  part            INTEGER NOT NULL REFERENCES parts (number),
  position        INTEGER NOT NULL CHECK (position BETWEEN 0 AND 100),
  key             TEXT NOT NULL CHECK (length(key) BETWEEN 1 AND 100),
  primary_m       REAL NOT NULL CHECK (primary_m BETWEEN 0 AND 10),
  secondary_m     REAL NOT NULL CHECK (secondary_m BETWEEN 0 AND 10),
  PRIMARY KEY (part, position)
) STRICT, WITHOUT ROWID;

CREATE INDEX part_interfaces_by_key ON part_interfaces (key, secondary_m, primary_m, part);

-- Words of parts that are not deleted; rowid is parts.number. The texts themselves stand in part_revisions.
CREATE VIRTUAL TABLE part_texts USING fts5 (
  name, maker, number, notes,
  content = '', contentless_delete = 1, tokenize = 'porter unicode61 remove_diacritics 2'
);

CREATE TABLE fits (
  number          INTEGER PRIMARY KEY,
  id              TEXT NOT NULL UNIQUE CHECK (length(id) = 36),
  account_id      TEXT NOT NULL REFERENCES accounts (id),
  key_id          TEXT NOT NULL REFERENCES keys (id),
  part            INTEGER NOT NULL REFERENCES parts (number),
  -- Kept equal to parts.kind, so that one index serves make, model and kind.
  part_kind       TEXT NOT NULL CHECK (length(part_kind) BETWEEN 1 AND 40),
  other_part      INTEGER REFERENCES parts (number),
  make_key        TEXT CHECK (octet_length(make_key) BETWEEN 1 AND 8000),
  model_key       TEXT CHECK (octet_length(model_key) BETWEEN 1 AND 8000),
  year_from       INTEGER CHECK (year_from BETWEEN 1800 AND 3000),
  year_to         INTEGER CHECK (year_to BETWEEN 1800 AND 3000),
  -- JSON text of the statement, sent as it is.
  content         TEXT NOT NULL CHECK (length(content) BETWEEN 2 AND 65536 AND json_valid(content)),
  created_at_ms   INTEGER NOT NULL CHECK (created_at_ms BETWEEN 0 AND 253402300799999),
  -- A statement taken back stays, with who took it back.
  deleted_at_ms   INTEGER CHECK (deleted_at_ms BETWEEN 0 AND 253402300799999),
  deleted_key_id  TEXT REFERENCES keys (id),
  CHECK ((other_part IS NULL) = (make_key IS NOT NULL AND model_key IS NOT NULL)),
  CHECK ((deleted_at_ms IS NULL) = (deleted_key_id IS NULL))
) STRICT;

CREATE INDEX fits_by_vehicle ON fits (make_key, model_key, part, year_from, year_to) WHERE deleted_at_ms IS NULL;
CREATE INDEX fits_by_vehicle_and_kind ON fits (make_key, model_key, part_kind, part, year_from, year_to)
  WHERE deleted_at_ms IS NULL;
CREATE INDEX fits_by_model ON fits (model_key, part) WHERE deleted_at_ms IS NULL;
CREATE INDEX fits_by_make ON fits (make_key, part) WHERE deleted_at_ms IS NULL;
CREATE INDEX fits_by_make_and_kind ON fits (make_key, part_kind, part) WHERE deleted_at_ms IS NULL;
CREATE INDEX fits_by_kind ON fits (part_kind, part) WHERE deleted_at_ms IS NULL;
CREATE INDEX fits_by_part ON fits (part, number) WHERE deleted_at_ms IS NULL;
CREATE INDEX fits_by_other_part ON fits (other_part, part) WHERE deleted_at_ms IS NULL AND other_part IS NOT NULL;

CREATE TABLE tire_sizes (
  number          INTEGER PRIMARY KEY,
  id              TEXT NOT NULL UNIQUE CHECK (length(id) = 36),
  account_id      TEXT NOT NULL REFERENCES accounts (id),
  version         INTEGER NOT NULL CHECK (version BETWEEN 1 AND 9007199254740991),
  designation     TEXT NOT NULL CHECK (length(designation) BETWEEN 3 AND 40),
  overall_diameter_m REAL NOT NULL CHECK (overall_diameter_m BETWEEN 0.1 AND 10),
  section_width_m REAL CHECK (section_width_m BETWEEN 0.01 AND 1),
  created_at_ms   INTEGER NOT NULL CHECK (created_at_ms BETWEEN 0 AND 253402300799999),
  changed_at_ms   INTEGER NOT NULL CHECK (changed_at_ms BETWEEN 0 AND 253402300799999),
  deleted_at_ms   INTEGER CHECK (deleted_at_ms BETWEEN 0 AND 253402300799999)
) STRICT;

CREATE UNIQUE INDEX tire_sizes_by_designation ON tire_sizes (designation) WHERE deleted_at_ms IS NULL;

CREATE TABLE tire_size_revisions (
  tire_size       INTEGER NOT NULL REFERENCES tire_sizes (number),
  version         INTEGER NOT NULL CHECK (version BETWEEN 1 AND 9007199254740991),
  change          TEXT NOT NULL CHECK (change IN ('created', 'replaced', 'deleted')),
  at_ms           INTEGER NOT NULL CHECK (at_ms BETWEEN 0 AND 253402300799999),
  key_id          TEXT NOT NULL REFERENCES keys (id),
  content         TEXT CHECK (length(content) BETWEEN 2 AND 65536 AND json_valid(content)),
  CHECK ((change = 'deleted') = (content IS NULL)),
  PRIMARY KEY (tire_size, version)
) STRICT;
