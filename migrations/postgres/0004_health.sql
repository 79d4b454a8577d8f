-- What whoever watches the service asks the file itself.

CREATE TABLE health (
  one               BIGINT PRIMARY KEY CHECK (one = 1),
  -- Written anew by each probe, so that it is a write and not a page found unchanged.
  probed_at_ms      BIGINT NOT NULL CHECK (probed_at_ms BETWEEN 0 AND 253402300799999),
  probes            BIGINT NOT NULL CHECK (probes BETWEEN 0 AND 9007199254740991),
  -- End of the last backup that was verified.
  backed_up_at_ms   BIGINT CHECK (backed_up_at_ms BETWEEN 0 AND 253402300799999)
);

INSERT INTO health (one, probed_at_ms, probes) VALUES (1, 0, 0);
