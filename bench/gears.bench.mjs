// Speed of the exact search of gear trains compared with brute force, and the memory of its products.
import { bestTrains } from '../dist/src/domain/gears/trains.js'
import { productTables, wheelSet } from '../dist/src/domain/gears/wheels.js'
import { ratioOf } from '../dist/src/domain/measure/ratio.js'

const TARGET = ratioOf(1000, 879)
const ROUNDS = 5
const wheels = wheelSet(
  Array.from({ length: 49 }, (_, i) => 12 + i),
  false,
)
const limits = { stages: 3, driving: wheels, driven: wheels, maxTrains: 20 }

function timed(work) {
  const start = process.hrtime.bigint()
  const result = work()
  return { result, ns: Number(process.hrtime.bigint() - start) }
}

/** Products of three wheels, order disregarded, repeats kept: each is one side of a train. */
function sides() {
  const products = []
  const { teeth } = wheels
  for (let i = 0; i < teeth.length; i++)
    for (let j = i; j < teeth.length; j++)
      for (let k = j; k < teeth.length; k++) products.push(teeth[i] * teeth[j] * teeth[k])
  return products
}

/** Brute force over every train of three stages in a minimal loop: no pairing, no ranking, one best. */
function bruteForce() {
  const value = TARGET.valueOf()
  const products = sides()
  let best = Number.POSITIVE_INFINITY
  let pair = [0, 0]
  for (const denominator of products) {
    const wanted = value * denominator
    for (const numerator of products) {
      const error = Math.abs(numerator / wanted - 1)
      if (error < best) {
        best = error
        pair = [numerator, denominator]
      }
    }
  }
  return pair
}

export default async () => {
  bestTrains(TARGET, limits)
  // Alternating, so that both run under the same load of the machine.
  const ratios = Array.from({ length: ROUNDS }, () => {
    const search = timed(() => bestTrains(TARGET, limits))
    const brute = timed(bruteForce)
    const [numerator, denominator] = brute.result
    const { ratio } = search.result.trains[0]
    if (numerator * Number(ratio.d) !== denominator * Number(ratio.n))
      throw new Error('the search and brute force found different best trains')
    return brute.ns / search.ns
  }).sort((a, b) => a - b)
  const bytes = productTables(wheels, wheels, 3).reduce((sum, { driving }) => sum + driving.byteLength, 0)
  return [
    {
      name: 'gear trains, three stages, 12 to 60 teeth',
      ratio: ratios[ROUNDS >> 1],
      spread: [ratios[1], ratios[ROUNDS - 2]],
      floor: 'brute force: every train, least error kept',
      target: 20,
      note: `20 best trains; products kept: ${bytes} bytes`,
    },
  ]
}
