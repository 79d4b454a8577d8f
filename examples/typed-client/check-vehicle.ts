// Checks a vehicle with types generated from the OpenAPI document: a misspelled field does not compile.
//   npm run typed-client && node examples/typed-client/dist/check-vehicle.js [address]
// Exit status: 1 a path fails or the vehicle cannot be checked, 2 no answer.
import createClient from 'openapi-fetch'
import type { components, paths } from './api.js'

type Vehicle = components['schemas']['VehicleProfile']

const baseUrl = process.argv[2] ?? 'http://127.0.0.1:8080'
const client = createClient<paths>({ baseUrl })

const vehicle: Vehicle = {
  name: 'Quillock Vanter',
  tires: { front: { size: '185/60R14' }, rear: { size: '185/60R14' } },
  paths: [
    {
      name: 'speedometer',
      axle: 'rear',
      stages: [
        { kind: 'final-drive', ratio: 3.7 },
        { kind: 'gear-pair', teeth: { driving: 7, driven: 20 } },
      ],
      head: { input: 'turns', constant: { perMile: 1000 }, unit: 'mph', dialMax: { mph: 120 } },
    },
  ],
  rule: 'un-r39',
}

const { data, error } = await client.POST('/v1/vehicle-checks', { body: vehicle }).catch(() => {
  console.error(`no answer from ${baseUrl}`)
  process.exit(2)
})
if (error !== undefined) {
  console.error(`not checked: ${error.detail}`)
  for (const { pointer, detail } of error.errors ?? []) console.error(`  ${pointer}: ${detail}`)
  process.exit(1)
}
for (const { name, indicatedPerTrue, verdicts } of data.paths) {
  const error = ((indicatedPerTrue.value - 1) * 100).toFixed(1)
  const uncertainty = (indicatedPerTrue.plusMinus * 100).toFixed(1)
  console.log(`${name}: error ${error} ± ${uncertainty} %`)
  for (const { rule, result } of verdicts) console.log(`  ${rule}: ${result}`)
}
for (const { level, text } of data.findings) console.log(`${level}: ${text}`)
process.exitCode = data.findings.some(({ level }) => level === 'fail') ? 1 : 0
