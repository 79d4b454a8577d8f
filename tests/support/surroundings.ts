import { join } from 'node:path'
import type { Store } from '../../src/db/store.js'
import type { Surroundings } from '../../src/program/command.js'
import { run } from '../../src/program/program.js'
import { tempFolder } from './temp.js'

/** Runs the program in this process, on a store that stays open, in a folder whose database does not exist unless told otherwise. */
export async function runProgram(args: readonly string[], store: Store, other: Partial<Surroundings> = {}) {
  const lines: { print: string[]; warn: string[] } = { print: [], warn: [] }
  const status = await run(args, {
    environment: { DATABASE_FILE: join(tempFolder(), 'a.sqlite') },
    clock: Date.now,
    openStore: () => ({ ...store, close: async () => undefined }),
    readStdin: async () => Buffer.alloc(0),
    print: (text) => lines.print.push(text),
    warn: (text) => lines.warn.push(text),
    callOf: (command, rest) => ['wheel-to-dial', command, ...(rest === undefined ? [] : [rest])].join(' '),
    ...other,
  })
  return { status, printed: lines.print.join('\n'), warned: lines.warn.join('\n') }
}
