import { existsSync } from 'node:fs'
import { parseArgs } from 'node:util'
import type { Clock, KeyRecord, Role, Store } from '../db/store.js'
import { type Command, type Surroundings, UsageError, wordOf, words } from './command.js'
import { settingsOf } from './settings.js'

const ACTOR = 'command line'
const ROLES: readonly string[] = ['reader', 'editor', 'admin']
const DAY_MS = 24 * 3600 * 1000

interface KeysContext {
  readonly store: Store
  readonly clock: Clock
  readonly print: (text: string) => void
}

function nameOf(what: string, text: string | undefined): string {
  if (text === undefined || text.trim() === '') throw new UsageError(`${what} is missing`)
  if (text.length > 100 || /\p{Cc}/u.test(text))
    throw new UsageError(`${what}: expected at most 100 characters, none of them control characters`)
  return text.trim()
}

function roleOf(text: string): Role {
  if (!ROLES.includes(text)) throw new UsageError(`--role: expected ${ROLES.join(', ')}, got ${text}`)
  return text as Role
}

function expiryOf(text: string, nowMs: number): number {
  const days = /^(\d{1,5})d$/.exec(text)?.[1]
  const atMs = days !== undefined ? nowMs + Number(days) * DAY_MS : Date.parse(text)
  const isDate = days !== undefined || /^\d{4}-\d{2}-\d{2}(T.+)?$/.test(text)
  if (!isDate || !Number.isFinite(atMs))
    throw new UsageError(`--expires: expected days as 90d, or a date as 2027-01-31; got ${text}`)
  if (atMs <= nowMs) throw new UsageError(`--expires: ${text} is not in the future`)
  return atMs
}

const day = (ms: number | undefined) =>
  ms === undefined ? '-' : new Date(ms).toISOString().slice(0, 16).replace('T', ' ')

function stateOf({ revokedAtMs, expiresAtMs }: KeyRecord, nowMs: number): string {
  if (revokedAtMs !== undefined) return 'revoked'
  return expiresAtMs !== undefined && expiresAtMs <= nowMs ? 'expired' : 'valid'
}

function printTable(print: (line: string) => void, rows: ReadonlyArray<readonly string[]>): void {
  const widths = rows[0]!.map((_, column) => Math.max(...rows.map((row) => row[column]!.length)))
  for (const row of rows)
    print(
      row
        .map((cell, column) => cell.padEnd(widths[column]!))
        .join('  ')
        .trimEnd(),
    )
}

async function makeAccount(name: string, { store, print }: KeysContext): Promise<void> {
  const account = await store.accounts.create(ACTOR, nameOf('NAME', name))
  if (account === undefined) throw new UsageError(`there is an account ${name} already`)
  print(`account ${account.name} made (${account.id})`)
}

async function create(args: readonly string[], { store, clock, print }: KeysContext): Promise<void> {
  const { values } = parseArgs({
    args: [...args],
    options: {
      account: { type: 'string' },
      role: { type: 'string', default: 'editor' },
      label: { type: 'string', default: 'unnamed' },
      expires: { type: 'string' },
    },
  })
  const account = nameOf('--account', values.account)
  const issued = await store.keys.create(ACTOR, {
    account,
    label: nameOf('--label', values.label),
    role: roleOf(values.role),
    ...(values.expires === undefined ? {} : { expiresAtMs: expiryOf(values.expires, clock()) }),
  })
  if (issued === undefined) {
    const names = (await store.accounts.list()).map(({ name }) => name)
    const known = names.length === 0 ? 'none yet' : names.join(', ')
    throw new UsageError(`there is no account ${account}; there are: ${known}`)
  }
  print(`key ${issued.record.id} for ${account}, role ${issued.record.role}. Shown this once:`)
  print('')
  print(`  ${issued.secret}`)
}

async function list({ store, clock, print }: KeysContext): Promise<void> {
  print(`accounts: ${(await store.accounts.list()).map(({ name }) => name).join(', ') || 'none'}`)
  const keys = await store.keys.list()
  if (keys.length === 0) return print('keys: none')
  print('')
  printTable(print, [
    ['id', 'account', 'role', 'label', 'state', 'made', 'expires', 'last used'],
    ...keys.map((key) => [
      key.id,
      key.accountName,
      key.role,
      key.label,
      stateOf(key, clock()),
      day(key.createdAtMs),
      day(key.expiresAtMs),
      day(key.lastUsedAtMs),
    ]),
  ])
}

async function revoke(id: string, { store, print }: KeysContext): Promise<void> {
  const key = await store.keys.revoke(ACTOR, nameOf('ID', id))
  if (key === undefined) throw new UsageError(`there is no key ${id}; see list`)
  print(`key ${key.id} (${key.label}) is revoked since ${day(key.revokedAtMs)} UTC`)
}

/** The steps of `keys`. Those on a file need a database that is there. */
const STEPS: Readonly<
  Record<
    string,
    {
      readonly onFile: boolean
      readonly run: (args: readonly string[], context: KeysContext) => Promise<void>
    }
  >
> = {
  account: { onFile: false, run: (args, context) => makeAccount(wordOf('NAME', args), context) },
  create: { onFile: false, run: create },
  list: {
    onFile: true,
    run: async (args, context) => {
      words(args, 0)
      await list(context)
    },
  },
  revoke: { onFile: true, run: (args, context) => revoke(wordOf('ID', args), context) },
}

async function runStep([name, ...rest]: readonly string[], surroundings: Surroundings): Promise<number> {
  if (name === undefined || !Object.hasOwn(STEPS, name))
    throw new UsageError(name === undefined ? 'which command?' : `unknown command ${name}`)
  const step = STEPS[name]!
  const { databaseFile } = settingsOf(surroundings)
  if (step.onFile && !existsSync(databaseFile))
    throw new Error(`${databaseFile} is not there. Set DATABASE_FILE.`)
  const { clock, print, openStore } = surroundings
  let opened: Store | undefined
  const context = {
    // Opened by the step that needs it, so that an invalid command creates no file.
    get store() {
      opened ??= openStore(databaseFile)
      return opened
    },
    clock,
    print,
  }
  try {
    await step.run(rest, context)
  } finally {
    await opened?.close()
  }
  return 0
}

export const keys: Command = {
  summary: 'makes, lists and revokes keys and accounts',
  usage: (call) => `Keys of the instance in DATABASE_FILE; the service may be running.

  ${call('account NAME')}
      creates an account: what it stores is visible to its own keys only
  ${call('create --account NAME [--role reader|editor|admin] [--label TEXT] [--expires 90d|2027-01-31]')}
      makes a key and shows it, this once; role editor unless told otherwise
  ${call('list')}
      accounts and keys, never the keys' secrets
  ${call('revoke ID')}
      ends a key at once`,
  run: runStep,
}
