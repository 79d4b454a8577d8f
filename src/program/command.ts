import type { Clock, Store } from '../db/store.js'

/** How a command is typed where the program is installed: `npm run keys -- list`, `wheel-to-dial keys list`. */
export type CallOf = (command: string, args?: string) => string

/** What a command uses of its surroundings. */
export interface Surroundings {
  readonly environment: NodeJS.ProcessEnv
  readonly clock: Clock
  /** Opens the store in a file, which is created if it does not exist. */
  readonly openStore: (file: string) => Store
  readonly readStdin: () => Promise<Buffer>
  /** Prints lines to stdout. */
  readonly print: (text: string) => void
  /** Prints lines to stderr. */
  readonly warn: (text: string) => void
  readonly callOf: CallOf
}

/** A command of the program. */
export interface Command {
  /** What it does, in one line. */
  readonly summary: string
  /** Its arguments and what they mean; `call` gives the whole command with the arguments given. */
  readonly usage: (call: (args?: string) => string) => string
  /** @returns The exit status, or undefined as long as a service runs */
  readonly run: (args: readonly string[], surroundings: Surroundings) => Promise<number | undefined>
}

/** An invalid command: printed with the usage. */
export class UsageError extends Error {}

/** The arguments of a command; checks their number. */
export function words(args: readonly string[], max: number): readonly string[] {
  if (args.length > max) throw new UsageError(`not understood: ${args.slice(max).join(' ')}`)
  return args
}

/** The one argument of a command. */
export function wordOf(what: string, args: readonly string[]): string {
  const [word] = words(args, 1)
  if (word === undefined) throw new UsageError(`${what} is missing`)
  return word
}
