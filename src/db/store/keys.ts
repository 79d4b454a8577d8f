/** reader: reads; editor: also writes; admin: also changes shared data of other accounts. */
export type Role = 'reader' | 'editor' | 'admin'

export interface KeyRecord {
  readonly id: string
  readonly accountId: string
  readonly accountName: string
  readonly label: string
  readonly role: Role
  readonly createdAtMs: number
  readonly expiresAtMs?: number
  readonly revokedAtMs?: number
  /** To the minute: uses are not recorded more often. */
  readonly lastUsedAtMs?: number
}

/** A new key. `secret` is what the caller sends; it is not stored and cannot be shown again. */
export interface IssuedKey {
  readonly record: KeyRecord
  readonly secret: string
}

/** The caller identified by a valid key. */
export interface Caller {
  readonly keyId: string
  readonly accountId: string
  readonly role: Role
}

export type KeyVerdict =
  | { readonly valid: true; readonly caller: Caller }
  | { readonly valid: false; readonly reason: 'unknown' | 'expired' | 'revoked' }

export interface KeyRequest {
  readonly account: string
  readonly label: string
  readonly role: Role
  readonly expiresAtMs?: number
}

export interface KeyStore {
  /**
   * Makes a key for the account of that name, with its audit row; only the hash of the secret is stored.
   *
   * @returns undefined when there is no such account
   */
  create(actor: string, request: KeyRequest): Promise<IssuedKey | undefined>
  /** Makes one account and one admin key if the store has never had any; undefined otherwise. */
  createFirst(actor: string, account: string, label: string): Promise<IssuedKey | undefined>
  list(): Promise<readonly KeyRecord[]>
  /**
   * Revokes a key at once, with its audit row.
   *
   * @returns The key as it is now, or undefined when there is none of that id. Revoking again does not change the time.
   */
  revoke(actor: string, id: string): Promise<KeyRecord | undefined>
  /** Verifies a secret; a change by any process takes effect from the next call on. */
  verify(secret: string): Promise<KeyVerdict>
}
