// How far is my speedometer off, and is that allowed? From a clone to the answer:
//
//   $ cd wheel-to-dial
//   $ npm start
//   $ node examples/check-my-car.mjs        (in another terminal in that folder, after editing the line below)
//
// The form at http://127.0.0.1:8080/ does the same, also for cars with more stages, without editing a file.

// Tire; teeth of ring gear and pinion; teeth of the speedometer's driving and driven gear; cable turns perMile or perKm at which the
// dial reads true, as printed on it; the unit of the dial, mph or kmh.
const CAR = { tire: '175/70R13', axle: [37, 9], gears: [6, 20], turns: { perMile: 1000 }, unit: 'mph' }

const WORDS = { conforms: 'Allowed', 'does-not-conform': 'Not allowed', 'not-proven': 'Not proven' }

const address = process.argv[2] ?? 'http://127.0.0.1:8080'
const tire = { size: CAR.tire }
const [ring, pinion] = CAR.axle
const [driving, driven] = CAR.gears
const profile = {
  name: 'My car',
  tires: { front: tire, rear: tire },
  paths: [
    {
      name: 'speedometer',
      axle: 'rear',
      stages: [
        { kind: 'final-drive', name: 'axle', ring, pinion },
        { kind: 'gear-pair', name: 'speedometer drive', teeth: { driving, driven } },
      ],
      head: { input: 'turns', constant: CAR.turns, unit: CAR.unit },
    },
  ],
  rule: 'un-r39',
}

const response = await fetch(`${address}/v1/vehicle-checks`, {
  method: 'POST',
  headers: { 'content-type': 'application/json' },
  body: JSON.stringify(profile),
}).catch(() => undefined)
const answer = await response?.json()

if (answer === undefined) {
  console.error(`No answer from ${address}. Start the service with npm start.`)
  process.exitCode = 2
} else if (!response.ok) {
  for (const { pointer, detail } of answer.errors ?? [{ pointer: answer.title, detail: answer.detail }])
    console.error(`${pointer}: ${detail}`)
  process.exitCode = 1
} else {
  const [{ verdicts, table, indicatedPerTrue }] = answer.paths
  const error = (indicatedPerTrue.value - 1) * 100
  console.log(`The speedometer ${error < 0 ? 'under' : 'over'}-reads by ${Math.abs(error).toFixed(1)} %.\n`)
  for (const row of table) {
    const [shown, uncertainty] = [row.indicated[CAR.unit], row.indicated.plusMinus?.[CAR.unit] ?? 0]
    console.log(
      `true ${row.true[CAR.unit].toFixed(0)}: indicated ${shown.toFixed(1)} ± ${uncertainty.toFixed(1)}`,
    )
  }
  for (const { rule, result, probability } of verdicts)
    console.log(`\n${WORDS[result]} by ${rule} (probability that it conforms: ${probability.toFixed(2)})`)
  for (const { text } of answer.findings) console.log(`- ${text}`)
  if (answer.remedies.length > 0) console.log(`Best remedy: ${answer.remedies[0].text}`)
}
