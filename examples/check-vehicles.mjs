// Checks every profile of a folder and prints a line each: node examples/check-vehicles.mjs [address] [folder]
// Ends with 1 when a profile fails or cannot be checked, so that a script can act on it.
import { readdir, readFile } from 'node:fs/promises'
import { join } from 'node:path'
import { request } from 'undici'

const address = process.argv[2] ?? 'http://127.0.0.1:8080'
const folder = process.argv[3] ?? join(import.meta.dirname, 'vehicles')

let failed = 0
for (const file of (await readdir(folder)).filter((name) => name.endsWith('.json')).sort()) {
  const { statusCode, body } = await request(`${address}/v1/vehicle-checks`, {
    method: 'POST',
    headers: { 'content-type': 'application/json' },
    body: await readFile(join(folder, file)),
  })
  const answer = await body.json()
  if (statusCode !== 200) {
    failed++
    console.log(`${file}: not checked: ${answer.detail}`)
    continue
  }
  const fails = answer.findings.filter(({ level }) => level === 'fail')
  if (fails.length > 0) failed++
  for (const { name, indicatedPerTrue, verdicts } of answer.paths) {
    const off = ((indicatedPerTrue.value - 1) * 100).toFixed(1)
    const doubt = (indicatedPerTrue.plusMinus * 100).toFixed(1)
    const results = verdicts.map(({ rule, result }) => `${rule} ${result}`).join(', ')
    console.log(`${file}: ${name} reads ${off} ± ${doubt} % off; ${results || 'no verdict'}`)
  }
  for (const { text } of fails) console.log(`  fail: ${text}`)
  if (answer.remedies.length > 0) console.log(`  best remedy: ${answer.remedies[0].text}`)
}
process.exitCode = failed > 0 ? 1 : 0
