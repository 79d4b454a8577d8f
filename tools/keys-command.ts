import { parseArgs } from 'node:util'
import type { Clock, KeyRecord, Role, Store } from '../src/db/store.js'

const USAGE = `Keys of the instance in DATABASE_FILE or DATABASE_URL; the service may be running.

  npm run keys -- account NAME
creates an account: what it stores is visible to its own keys only
  npm run keys -- create --account NAME [--role reader|editor|admin] [--label TEXT] [--expires 90d|2027-01-31]
      makes a key and shows it, this once; role editor unless told otherwise
  npm run keys -- list
      accounts and keys, never the keys' secrets
  npm run keys -- revoke ID
      ends a key at once`

/** Commands that need an existing database. */
export const COMMANDS_ON_A_FILE: readonly string[] = ['list', 'revoke']

const ACTOR = 'command line'
const ROLES: readonly string[] = ['reader', 'editor', 'admin']
const DAY_MS = 24 * 3600 * 1000

/** An invalid command: printed with the usage. */
class UsageError extends Error {}

export interface CommandContext {
  /** Called by a command that needs the store, so that an invalid command creates no file. */
  readonly openStore: () => Promise<Store>
  readonly clock: Clock
  readonly print: (line: string) => void
}

function nameOf(what: string, text: string | undefined): string {
  if (text === undefined || text.trim() === '') throw new UsageError(`${what} is missing`)
  if (text.length > 100 || /\p{Cc}/u.test(text))
    throw new UsageError(`${what}: expected at most 100 characters, none of them control characters`)
  return text.trim()
}

/** The arguments of a command; checks their number. */
function words(args: readonly string[], most: number): readonly string[] {
  if (args.length > most) throw new UsageError(`not understood: ${args.slice(most).join(' ')}`)
  return args
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

async function makeAccount(name: string | undefined, { openStore, print }: CommandContext): Promise<void> {
  const store = await openStore()
  const account = await store.accounts.create(ACTOR, nameOf('NAME', name))
  if (account === undefined) throw new UsageError(`there is an account ${name} already`)
  print(`account ${account.name} made (${account.id})`)
}

async function create(args: string[], { openStore, clock, print }: CommandContext): Promise<void> {
  const store = await openStore()
  const { values } = parseArgs({
    args,
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

async function list({ openStore, clock, print }: CommandContext): Promise<void> {
  const store = await openStore()
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

async function revoke(id: string | undefined, { openStore, print }: CommandContext): Promise<void> {
  const store = await openStore()
  const key = await store.keys.revoke(ACTOR, nameOf('ID', id))
  if (key === undefined) throw new UsageError(`there is no key ${id}; see list`)
  print(`key ${key.id} (${key.label}) is revoked since ${day(key.revokedAtMs)} UTC`)
}

/**
 * Runs one command on keys.
 *
 * @returns The exit status: 0, or 2 for an invalid command
 */
export async function runKeysCommand(args: readonly string[], context: CommandContext): Promise<number> {
  const [command, ...rest] = args
  try {
    if (command === 'account') await makeAccount(words(rest, 1)[0], context)
    else if (command === 'create') await create(rest, context)
    else if (command === 'list') {
      words(rest, 0)
      await list(context)
    } else if (command === 'revoke') await revoke(words(rest, 1)[0], context)
    else throw new UsageError(command === undefined ? 'which command?' : `unknown command ${command}`)
    return 0
  } catch (error) {
    const isUsage =
      error instanceof UsageError || String((error as { code?: unknown }).code).startsWith('ERR_PARSE_ARGS')
    if (!isUsage) throw error
    context.print(`${(error as Error).message}\n\n${USAGE}`)
    return 2
  }
}
