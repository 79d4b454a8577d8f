import { type ChildProcess, execFileSync, spawn } from 'node:child_process'
import { chmodSync, chownSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { setTimeout as wait } from 'node:timers/promises'
import pg from 'pg'
import { afterAll } from 'vitest'
import { postgresPrograms } from './postgres.js'

/** PostgreSQL refuses to run as root. */
function unprivileged(): { uid?: number; gid?: number } {
  if (process.getuid?.() !== 0) return {}
  const idOf = (option: string) => Number(execFileSync('id', [option, 'nobody'], { encoding: 'utf8' }))
  return { uid: idOf('-u'), gid: idOf('-g') }
}

/** A server of its own on a socket in a temporary folder. */
export class Cluster {
  readonly folder = mkdtempSync(join(tmpdir(), 'wtd-pg-'))
  private readonly user = unprivileged()
  private server: ChildProcess | undefined
  private databases = 0

  constructor() {
    if (this.user.uid !== undefined) chownSync(this.folder, this.user.uid, this.user.gid!)
    chmodSync(this.folder, 0o700)
    const options = [
      '-D',
      join(this.folder, 'data'),
      '-U',
      'tester',
      '-A',
      'trust',
      '-E',
      'UTF8',
      '--no-sync',
    ]
    execFileSync(join(postgresPrograms!, 'initdb'), options, {
      ...this.user,
      cwd: this.folder,
      stdio: 'pipe',
    })
    process.on('exit', this.kill)
  }

  /** Starts the server; resolves when it takes connections. */
  async start(): Promise<void> {
    const options = ['-D', join(this.folder, 'data'), '-k', this.folder, '-c', 'listen_addresses=']
    this.server = spawn(join(postgresPrograms!, 'postgres'), options, {
      ...this.user,
      cwd: this.folder,
      stdio: 'ignore',
    })
    for (let tries = 0; ; tries++) {
      try {
        await this.execute('SELECT 1')
        return
      } catch (error) {
        if (tries >= 300) throw error
        await wait(100)
      }
    }
  }

  /** Stops the server at once, as a crash does. */
  async crash(): Promise<void> {
    const { server } = this
    if (server === undefined) return
    this.server = undefined
    const ended = new Promise((resolve) => server.once('exit', resolve))
    // Immediate shutdown: without this signal the processes of connections would live on.
    server.kill('SIGQUIT')
    await ended
  }

  async remove(): Promise<void> {
    await this.crash()
    process.off('exit', this.kill)
    rmSync(this.folder, { recursive: true, force: true })
  }

  url(database: string): string {
    return `postgres://tester@localhost/${database}?host=${encodeURIComponent(this.folder)}`
  }

  /** @returns The address of a new, empty database */
  async database(): Promise<string> {
    const name = `d${++this.databases}`
    await this.execute(`CREATE DATABASE ${name}`)
    return this.url(name)
  }

  /** Executes a statement as the administrator. */
  async execute(sql: string): Promise<unknown[]> {
    const client = new pg.Client({ connectionString: this.url('postgres') })
    client.on('error', () => undefined)
    await client.connect()
    try {
      return (await client.query(sql)).rows
    } finally {
      await client.end()
    }
  }

  private readonly kill = () => {
    this.server?.kill('SIGQUIT')
  }
}

let shared: Promise<Cluster> | undefined

/** The server of this test file, started at the first call and removed after the last test. */
export function clusterOfFile(): Promise<Cluster> {
  shared ??= (async () => {
    const cluster = new Cluster()
    await cluster.start()
    return cluster
  })()
  return shared
}

afterAll(async () => {
  await (await shared)?.remove()
})
