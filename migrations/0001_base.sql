-- The instance, who may use it, what they did, and answers kept for repeated requests.

CREATE TABLE instance (
  one             INTEGER PRIMARY KEY CHECK (one = 1),
  id              TEXT NOT NULL CHECK (length(id) = 36),
  -- Signs page cursors. Every query is bound to its account anyway: a forged cursor shows nothing of others.
  cursor_secret   BLOB NOT NULL CHECK (length(cursor_secret) = 32),
  created_at_ms   INTEGER NOT NULL CHECK (created_at_ms BETWEEN 0 AND 253402300799999)
) STRICT;

CREATE TABLE accounts (
  id              TEXT PRIMARY KEY CHECK (length(id) = 36),
  name            TEXT NOT NULL UNIQUE CHECK (length(name) BETWEEN 1 AND 100),
  created_at_ms   INTEGER NOT NULL CHECK (created_at_ms BETWEEN 0 AND 253402300799999)
) STRICT, WITHOUT ROWID;

CREATE TABLE keys (
  id              TEXT PRIMARY KEY CHECK (length(id) = 36),
  account_id      TEXT NOT NULL REFERENCES accounts (id),
  label           TEXT NOT NULL CHECK (length(label) BETWEEN 1 AND 100),
  role            TEXT NOT NULL CHECK (role IN ('reader', 'editor', 'admin')),
  -- SHA-256 of the key. The key is 256 random bits: a slow hash would add nothing.
  hash            TEXT NOT NULL UNIQUE CHECK (length(hash) = 64),
  created_at_ms   INTEGER NOT NULL CHECK (created_at_ms BETWEEN 0 AND 253402300799999),
  expires_at_ms   INTEGER CHECK (expires_at_ms BETWEEN 0 AND 253402300799999),
  revoked_at_ms   INTEGER CHECK (revoked_at_ms BETWEEN 0 AND 253402300799999),
  last_used_at_ms INTEGER CHECK (last_used_at_ms BETWEEN 0 AND 253402300799999)
) STRICT;

CREATE INDEX keys_by_account ON keys (account_id);

CREATE TABLE audit (
  number          INTEGER PRIMARY KEY,
  at_ms           INTEGER NOT NULL CHECK (at_ms BETWEEN 0 AND 253402300799999),
  actor           TEXT NOT NULL CHECK (length(actor) BETWEEN 1 AND 100),
  action          TEXT NOT NULL CHECK (length(action) BETWEEN 1 AND 40),
  account_id      TEXT NOT NULL REFERENCES accounts (id),
  key_id          TEXT REFERENCES keys (id),
  detail          TEXT NOT NULL CHECK (json_valid(detail) AND length(detail) <= 2000)
) STRICT;

CREATE INDEX audit_by_account ON audit (account_id, number);

-- Answers to requests with an Idempotency-Key, written in the transaction of the change that they report.
CREATE TABLE kept_answers (
  account_id      TEXT NOT NULL REFERENCES accounts (id),
  idempotency_key TEXT NOT NULL CHECK (length(idempotency_key) BETWEEN 1 AND 200),
  fingerprint     BLOB NOT NULL CHECK (length(fingerprint) = 32),
  status          INTEGER NOT NULL CHECK (status BETWEEN 200 AND 299),
  headers         TEXT NOT NULL CHECK (json_valid(headers) AND length(headers) <= 4000),
  body            TEXT NOT NULL CHECK (length(body) <= 67108864),
  kept_at_ms      INTEGER NOT NULL CHECK (kept_at_ms BETWEEN 0 AND 253402300799999),
  PRIMARY KEY (account_id, idempotency_key)
) STRICT;

CREATE INDEX kept_answers_by_time ON kept_answers (kept_at_ms);
