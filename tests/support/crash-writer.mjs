// Writes to a store as fast as it can until it is killed; tells each acknowledged write on standard output.
// node crash-writer.mjs FILE
import { writeSync } from 'node:fs'
import { openSqliteStore } from '../../dist/src/db/sqlite/sqlite-store.js'

const [file] = process.argv.slice(2)
const store = openSqliteStore({ file, clock: Date.now })
await store.accounts.create('writer', 'club')
const { record } = await store.keys.create('writer', { account: 'club', label: 'writer', role: 'editor' })
const author = { accountId: record.accountId, keyId: record.id }

// Written at once, not buffered: what is told was acknowledged before the kill.
const tell = (ack) => writeSync(1, `${JSON.stringify(ack)}\n`)
const marked = () => {
  const mark = crypto.randomUUID()
  return {
    mark,
    input: { make: 'Tarvenna', profile: JSON.stringify({ mark, filler: 'x'.repeat(Math.random() * 4000) }) },
  }
}

async function live() {
  for (;;) {
    const { mark, input } = marked()
    const key = crypto.randomUUID()
    const save = {
      key,
      fingerprint: new Uint8Array(32),
      answer: ({ id }) => ({ status: 201, headers: {}, body: id }),
    }
    const { vehicle } = await store.vehicles.create(author, input, save)
    tell({ id: vehicle.id, version: 1, mark, key })
    let { version } = vehicle
    for (let changes = Math.floor(Math.random() * 6); changes > 0; changes--) {
      const next = marked()
      const done = await store.vehicles.replace(author, vehicle.id, [version], () => next.input)
      version = done.vehicle.version
      tell({ id: vehicle.id, version, mark: next.mark })
    }
    const recorded = await store.calibrations.record(author, vehicle.id, {
      path: 'speedometer',
      accepted: true,
      request: '{}',
      result: '{}',
    })
    tell({ calibration: recorded.calibration.id, vehicle: vehicle.id })
    const reference = `J${Math.floor(Math.random() * 20)}`
    const put = await store.vehicles.putByReference(author, reference, {}, input)
    if (put.outcome === 'created') tell({ id: put.vehicle.id, version: 1, mark })
    if (Math.random() < 0.5) {
      await store.vehicles.remove(author, vehicle.id, [version])
      tell({ id: vehicle.id, version: version + 1 })
    }
  }
}

/** Units that write and then fail, in the same transactions as the others. */
async function fail() {
  for (;;) {
    await store.vehicles
      .create(
        author,
        { ...marked().input, reference: 'half' },
        {
          key: 'half',
          fingerprint: new Uint8Array(32),
          answer: () => {
            throw new Error('on purpose')
          },
        },
      )
      .catch(() => undefined)
  }
}

await Promise.all([live(), live(), live(), live(), live(), live(), fail()])
