import { buffer } from 'node:stream/consumers'
import { openSqliteStore } from '../db/sqlite/sqlite-store.js'
import { MODEL } from '../domain/model.js'
import { VERSION } from '../version.js'
import { backup } from './backup.js'
import { callOf } from './calls.js'
import { check } from './check.js'
import { type Command, type Surroundings, UsageError } from './command.js'
import { demo } from './demo.js'
import { keys } from './keys.js'
import { restore } from './restore.js'
import { serve } from './serve.js'

/** Every command of the program, by its name. */
export const COMMANDS: Readonly<Record<string, Command>> = { serve, keys, backup, restore, demo, check }

const NAME_WIDTH = Math.max(...Object.keys(COMMANDS).map((name) => name.length))

const OVERVIEW = `wheel-to-dial ${VERSION}: everything between a car's road wheel and the speed on its dial.

${Object.entries(COMMANDS)
  .map(([name, { summary }]) => `  ${name.padEnd(NAME_WIDTH)}  ${summary}`)
  .join('\n')}

  COMMAND --help  arguments of a command
  --version       versions of the program and of its computations

Exit status: 0 done; 1 failed, with a message; 2 a command that is not understood. Settings are environment variables: docs/settings.md.`

const SURROUNDINGS: Surroundings = {
  environment: process.env,
  clock: Date.now,
  openStore: (file) => openSqliteStore({ file, clock: Date.now }),
  readStdin: () => buffer(process.stdin),
  print: console.log,
  warn: console.error,
  callOf,
}

const HELP: ReadonlyArray<string | undefined> = ['--help', '-h']
const asksForHelp = (args: readonly string[]) => args.some((arg) => HELP.includes(arg))

const isUsageError = (error: unknown) =>
  error instanceof UsageError || String((error as { code?: unknown }).code).startsWith('ERR_PARSE_ARGS')

/** Runs one command; errors are printed without a stack, which would only hide the message. */
async function runCommand(
  name: string,
  command: Command,
  args: readonly string[],
  surroundings: Surroundings,
): Promise<number | undefined> {
  const usage = command.usage((rest) => surroundings.callOf(name, rest))
  if (asksForHelp(args)) {
    surroundings.print(usage)
    return 0
  }
  try {
    return await command.run(args, surroundings)
  } catch (error) {
    const message = error instanceof Error ? error.message : String(error)
    surroundings.warn(isUsageError(error) ? `${message}\n\n${usage}` : message)
    return isUsageError(error) ? 2 : 1
  }
}

/**
 * Runs the program.
 *
 * @param args - The command and its arguments
 * @returns The exit status, or undefined as long as a service runs
 */
export async function run(
  args: readonly string[],
  surroundings: Surroundings = SURROUNDINGS,
): Promise<number | undefined> {
  const [name, ...rest] = args
  if (HELP.includes(name)) surroundings.print(OVERVIEW)
  else if (name === '--version') surroundings.print(`wheel-to-dial ${VERSION}, computations ${MODEL}`)
  else if (name !== undefined && Object.hasOwn(COMMANDS, name))
    return runCommand(name, COMMANDS[name]!, rest, surroundings)
  else {
    surroundings.warn(`${name === undefined ? 'which command?' : `unknown command ${name}`}\n\n${OVERVIEW}`)
    return 2
  }
  return 0
}
