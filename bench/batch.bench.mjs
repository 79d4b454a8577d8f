// A batch of vehicles beside the same work without HTTP: CPU time a line, memory, how long the event loop is held up, and how long
// other callers wait meanwhile. BATCH_LINES=1000000 npm run bench -- batch takes some minutes.
import { setTimeout as wait } from 'node:timers/promises'
import { request } from 'undici'
import { chunksOf, LINE } from './support/batch-lines.mjs'
import { start } from './support/child.mjs'

const LINES = Number(process.env.BATCH_LINES ?? 100_000)
const ROUNDS = 5
const ROUND_LINES = 10_000
const FEW_LINES = 1000
const ALONE_MS = 10_000

const median = (values) => values.toSorted((a, b) => a - b)[Math.floor(values.length / 2)]

/** Sends a batch and reads its answers as they come; CPU time of the service a line [us], and what else it reports. */
async function batch(service, lines) {
  await service.facts()
  const before = await service.cpuS()
  const { statusCode, body } = await request(`${service.address}/v1/vehicle-checks/batch`, {
    method: 'POST',
    headers: { 'content-type': 'application/x-ndjson' },
    body: chunksOf(lines),
    headersTimeout: 0,
    bodyTimeout: 0,
  })
  let tail = ''
  for await (const chunk of body) tail = (tail + chunk.toString('latin1')).slice(-300)
  const { summary } = JSON.parse(tail.trimEnd().split('\n').at(-1))
  if (statusCode !== 200 || summary.ok !== lines || !summary.complete)
    throw new Error(`the batch was not answered: ${JSON.stringify(summary)}`)
  const facts = await service.facts()
  return { ...facts, lineUs: ((facts.cpuS - before) / lines) * 1e6 }
}

export default async () => {
  const service = await start('batch-service.mjs')
  const floor = await start('batch-floor.mjs')
  const neighbor = await start('neighbor.mjs', service.address)
  try {
    const floorUs = async (lines) => ((await floor.facts(lines)).cpuS / lines) * 1e6
    await wait(2000)
    const idle = await service.facts()
    await wait(ALONE_MS)
    await neighbor.facts()
    await wait(ALONE_MS)
    const alone = await neighbor.facts()
    await batch(service, FEW_LINES)
    await floorUs(FEW_LINES)
    const ratios = []
    for (let round = 0; round < ROUNDS; round++) {
      const { lineUs } = await batch(service, ROUND_LINES)
      ratios.push((await floorUs(ROUND_LINES)) / lineUs)
    }
    const few = median([
      ...(await Promise.all([])),
      (await batch(service, FEW_LINES)).lineUs,
      (await batch(service, FEW_LINES)).lineUs,
      (await batch(service, FEW_LINES)).lineUs,
    ])
    await neighbor.facts()
    const many = await batch(service, LINES)
    const meanwhile = await neighbor.facts()
    const sorted = ratios.toSorted((a, b) => a - b)
    console.error({ idle, alone, many, meanwhile, few, ratios, line: LINE.length })
    return [
      {
        name: 'POST /v1/vehicle-checks/batch',
        ratio: median(ratios),
        spread: [sorted[1], sorted.at(-2)],
        floor: 'parse, the same check, stringify; no HTTP, no validation',
        target: 0.6,
        note: `CPU time a line, batches of ${ROUND_LINES} lines of ${LINE.length} bytes`,
      },
    ]
  } finally {
    await Promise.all([service.stop(), floor.stop(), neighbor.stop()])
  }
}
