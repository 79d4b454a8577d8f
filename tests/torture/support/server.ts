import { type ChildProcess, spawn } from 'node:child_process'
import { once } from 'node:events'
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { setTimeout as wait } from 'node:timers/promises'
import { afterEach } from 'vitest'
import { openSqliteStore } from '../../../src/db/sqlite/sqlite-store.js'

const root = join(import.meta.dirname, '../../..')

const { scripts } = JSON.parse(readFileSync(join(root, 'package.json'), 'utf8'))

/** What a command of the project runs, once built: the file and its arguments. */
export function builtProgram(command: 'start' | 'backup' | 'restore'): string[] {
  const [file, ...args] = /node tools\/run\.mjs (.*)$/.exec(scripts[command])![1]!.split(' ')
  return [join(root, file!), ...args]
}

/** How long a server may take to say that it listens, on a busy machine [ms]. */
const START_TIMEOUT_MS = 90_000

export interface Setting {
  readonly file: string
  readonly environment?: Record<string, string>
  /** A command that runs the server, such as one that limits it. */
  readonly under?: readonly string[]
  /** Who runs it; left out: whoever runs the test. */
  readonly user?: number
}

export interface Answer {
  readonly status: number
  readonly headers: Headers
  readonly text: string
  /** The answer's JSON, as loosely as a test reads it. */
  // biome-ignore lint/suspicious/noExplicitAny: tests look into any answer
  readonly body: any
}

const running: Server[] = []

afterEach(async () => {
  await Promise.all(running.splice(0).map((server) => server.kill()))
})

/** The built service in a process of its own. */
export class Server {
  readonly child: ChildProcess
  readonly exited: Promise<number | null>
  out = ''
  error = ''

  constructor({ file, environment = {}, under = [], user }: Setting) {
    // As the supervisor starts each process, and as PROCESSES=1 is to be started.
    const node = [process.execPath, '--max-semi-space-size=8']
    const [command, ...args] = [...under, ...node, ...builtProgram('start')]
    this.child = spawn(command!, args, {
      cwd: root,
      env: {
        ...process.env,
        PORT: '0',
        DATABASE_FILE: file,
        LOG_LEVEL: 'error',
        RATE_PER_KEY: '0',
        RATE_PER_ADDRESS: '0',
        ...environment,
      },
      ...(user === undefined ? {} : { uid: user, gid: user }),
    })
    this.child.stdout!.on('data', (chunk) => {
      this.out += chunk
    })
    this.child.stderr!.on('data', (chunk) => {
      this.error += chunk
    })
    this.exited = once(this.child, 'close').then(([code]) => code)
    running.push(this)
  }

  get pid(): number {
    return this.child.pid!
  }

  get address(): string {
    return /listens on (\S+)\./.exec(this.out)![1]!
  }

  /** Resolves when the server listens; rejects when it ends instead. */
  async ready(): Promise<this> {
    const endsMs = performance.now() + START_TIMEOUT_MS
    while (!/listens on \S+\./.test(this.out)) {
      if (this.child.exitCode !== null || this.child.signalCode !== null)
        throw new Error(`the server ended: ${this.error}`)
      if (performance.now() > endsMs) throw new Error(`the server does not listen: ${this.out}${this.error}`)
      await wait(20)
    }
    return this
  }

  async ask(
    key: string | undefined,
    method: string,
    path: string,
    body?: unknown,
    headers = {},
  ): Promise<Answer> {
    const response = await fetch(this.address + path, {
      method,
      headers: {
        ...(key === undefined ? {} : { authorization: `Bearer ${key}` }),
        ...(body === undefined ? {} : { 'content-type': 'application/json' }),
        ...headers,
      },
      ...(body === undefined ? {} : { body: JSON.stringify(body) }),
    })
    const text = await response.text()
    const isJson = /json/.test(response.headers.get('content-type') ?? '')
    return {
      status: response.status,
      headers: response.headers,
      text,
      body: isJson && text !== '' ? JSON.parse(text) : undefined,
    }
  }

  /** Ends it in order; the exit code. */
  async stop(): Promise<number | null> {
    this.child.kill('SIGTERM')
    return this.exited
  }

  async kill(): Promise<void> {
    if (this.child.exitCode === null && this.child.signalCode === null) this.child.kill('SIGKILL')
    await this.exited
  }
}

/** Makes a database with one account; a key of it that may do anything. */
export async function makeFile(file: string): Promise<string> {
  const store = openSqliteStore({ file, clock: Date.now })
  const issued = await store.keys.createFirst('test', 'club', 'first key')
  await store.close()
  return issued!.secret
}

/** Opens a database as the service does after a crash, and closes it in order. */
export async function recover(file: string): Promise<void> {
  await openSqliteStore({ file, clock: Date.now }).close()
}

/** A server on a new database, and a key that may do anything. */
export async function firstStart(setting: Setting): Promise<{ server: Server; key: string }> {
  const key = await makeFile(setting.file)
  return { server: await new Server(setting).ready(), key }
}
