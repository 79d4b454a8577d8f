/** The answer to a request with an Idempotency-Key, to be given again. */
export interface KeptAnswer {
  readonly status: number
  readonly headers: Readonly<Record<string, string>>
  readonly body: string
}

/** Asks a unit of work to keep the answer it leads to, in its own transaction: a crash keeps both or neither. */
export interface Keep<T> {
  readonly key: string
  /** SHA-256 of the request: the same key with another request is refused. */
  readonly fingerprint: Uint8Array
  /** The answer for what the unit of work made. Called inside the transaction: must only compute. */
  readonly answer: (made: T) => KeptAnswer
}

export interface KeptAnswerStore {
  /** What was answered under this key of the account; undefined when nothing is kept any longer. */
  find(
    accountId: string,
    key: string,
  ): Promise<{ readonly fingerprint: Uint8Array; readonly answer: KeptAnswer } | undefined>
}
