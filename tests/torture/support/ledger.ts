import { randomUUID } from 'node:crypto'
import SqliteDatabase from 'better-sqlite3'
import { expect } from 'vitest'
import { aVehicle } from '../../support/vehicles.js'
import type { Answer, Server } from './server.js'

interface Acknowledged {
  readonly id: string
  readonly version: number
  /** Absent when the vehicle was deleted. */
  readonly mark?: string
}

/** A refusal that leaves open whether the write happened. */
const UNKNOWN_OUTCOME = /Look whether it is there/

/** Writes to a server, and what it said of each; looks afterwards whether the file agrees. */
export class Ledger {
  readonly acknowledged: Acknowledged[] = []
  /** Writes that were answered with a refusal, by the mark that would stand in the file. */
  readonly refused: Array<{ readonly mark: string; readonly answer: Answer }> = []
  /** Marks of writes that got no answer at all: both outcomes are right. */
  readonly unanswered: string[] = []

  /** Creates a vehicle, and changes and deletes it as chance will. @returns Whether all was acknowledged */
  async write(server: Server, key: string): Promise<boolean> {
    const made = await this.one(server, key, 'POST', '/v1/vehicles')
    if (made === undefined) return false
    let { version } = made
    const path = `/v1/vehicles/${made.id}`
    for (let changes = Math.floor(Math.random() * 3); changes > 0; changes--) {
      const changed = await this.one(server, key, 'PUT', path, version)
      if (changed === undefined) return false
      version = changed.version
    }
    if (Math.random() < 0.7) return true
    const gone = await server
      .ask(key, 'DELETE', path, undefined, { 'if-match': `"${version}"` })
      .catch(() => undefined)
    if (gone?.status !== 204) return false
    this.acknowledged.push({ id: made.id, version: version + 1 })
    return true
  }

  private async one(server: Server, key: string, method: 'POST' | 'PUT', path: string, version?: number) {
    const mark = randomUUID()
    const headers = version === undefined ? { 'idempotency-key': mark } : { 'if-match': `"${version}"` }
    const body = aVehicle({ notes: `${mark} ${'x'.repeat(Math.random() * 3000)}` })
    let answer: Answer
    try {
      answer = await server.ask(key, method, path, body, headers)
    } catch {
      this.unanswered.push(mark)
      return undefined
    }
    if (answer.status >= 300) {
      this.refused.push({ mark, answer })
      return undefined
    }
    const acknowledged = { id: answer.body.id as string, version: answer.body.version as number, mark }
    this.acknowledged.push(acknowledged)
    return acknowledged
  }

  /** Every write that was acknowledged is in the file, none that was refused is, and the file is sound. */
  expectKept(file: string): void {
    const db = new SqliteDatabase(file, { readonly: true })
    try {
      const rows = db
        .prepare<[], { vehicle_id: string; version: number; notes: string | null }>(
          "SELECT vehicle_id, version, json_extract(profile, '$.notes') AS notes FROM vehicle_revisions",
        )
        .all()
      const markOf = (notes: string | null) => notes?.split(' ')[0]
      const found = new Map(rows.map((row) => [`${row.vehicle_id} ${row.version}`, markOf(row.notes)]))
      const absent = Symbol('absent')
      const lost = this.acknowledged.filter(({ id, version, mark }) => {
        const name = `${id} ${version}`
        return (found.has(name) ? found.get(name) : absent) !== mark
      })
      expect(lost).toEqual([])
      const marks = new Set(found.values())
      const cameBack = this.refused.filter(
        ({ mark, answer }) => marks.has(mark) && !UNKNOWN_OUTCOME.test(answer.body.detail),
      )
      expect(cameBack.map(({ mark, answer }) => ({ mark, answer: answer.body }))).toEqual([])
      expect(db.pragma('integrity_check', { simple: true })).toBe('ok')
      expect(db.pragma('foreign_key_check')).toEqual([])
      const halves = db.prepare(
        `SELECT id FROM vehicles JOIN vehicle_revisions ON vehicle_id = id GROUP BY id
         HAVING max(vehicle_revisions.version) <> vehicles.version OR count(*) <> vehicles.version`,
      )
      expect(halves.all()).toEqual([])
    } finally {
      db.close()
    }
  }
}

/** What a refusal for a disk that is full or failing must be: a 503 in the one form that tells the cause and nothing else. */
export function expectDiskProblem({ status, headers, body, text }: Answer, detail: RegExp): void {
  expect([status, body.code], text).toEqual([503, 'unavailable'])
  expect(headers.get('content-type')).toMatch(/^application\/problem\+json/)
  expect(Number(headers.get('retry-after'))).toBeGreaterThan(0)
  expect(body.detail).toMatch(detail)
  expect(text).not.toMatch(/SQLITE|sqlite|\/tmp|node:| at /)
}
