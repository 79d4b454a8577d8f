export interface Account {
  readonly id: string
  readonly name: string
  readonly createdAtMs: number
}

/** Accounts: each sees only its own vehicles and calibrations. */
export interface AccountStore {
  /**
   * Makes an account, with its audit row.
   *
   * @returns undefined when the name is taken
   */
  create(actor: string, name: string): Promise<Account | undefined>
  read(id: string): Promise<Account | undefined>
  list(): Promise<readonly Account[]>
}
