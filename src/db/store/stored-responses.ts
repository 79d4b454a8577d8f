/** The response to a request with an Idempotency-Key, sent again when the request is repeated. */
export interface StoredResponse {
  readonly status: number
  readonly headers: Readonly<Record<string, string>>
  readonly body: string
}

/** Asks a unit of work to store its response in the same transaction: after a crash both are there or neither. */
export interface SaveResponse<T> {
  readonly key: string
  /** SHA-256 of the request: the same key with another request is refused. */
  readonly fingerprint: Uint8Array
  /** The response for the result of the unit of work. Called inside the transaction, maybe again: must only compute. */
  readonly answer: (made: T) => StoredResponse
}

export interface StoredResponseStore {
  /** The response stored under this key of the account; undefined if there is none or it has expired. */
  find(
    accountId: string,
    key: string,
  ): Promise<{ readonly fingerprint: Uint8Array; readonly answer: StoredResponse } | undefined>
}
