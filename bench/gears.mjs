// How much faster the exact search of trains is than trying every train: ratios in one run, since seconds depend on the machine.
// Needs `npm run build`. Prints the ratio for three stages over 12 to 60 teeth, and the memory that the search keeps.
import { bestTrains } from '../dist/src/domain/gears/trains.js'
import { productTables, wheelSet } from '../dist/src/domain/gears/wheels.js'
import { ratioOf } from '../dist/src/domain/measure/ratio.js'

const TARGET = ratioOf(1000, 879)
const wheels = wheelSet(
  Array.from({ length: 49 }, (_, i) => 12 + i),
  false,
)

function seconds(work) {
  const start = process.hrtime.bigint()
  const result = work()
  return { result, seconds: Number(process.hrtime.bigint() - start) / 1e9 }
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

/** Every train of three stages, in the tightest loop there is: no pairing, no order of merit, one best. */
function bruteForce(value) {
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

const limits = { stages: 3, driving: wheels, driven: wheels, most: 20 }
bestTrains(TARGET, limits)
const runs = Array.from({ length: 5 }, () => seconds(() => bestTrains(TARGET, limits)))
const search = Math.min(...runs.map((run) => run.seconds))
const brute = seconds(() => bruteForce(TARGET.valueOf()))
const [numerator, denominator] = brute.result
const best = runs[0].result.trains[0]
if (numerator * Number(best.ratio.d) !== denominator * Number(best.ratio.n))
  throw new Error('the search and brute force found different best trains')
const bytes = productTables(wheels, wheels, 3).reduce((sum, { driving }) => sum + driving.byteLength, 0)
console.log(
  `trains, three stages, 12 to 60 teeth: ${Math.round(brute.seconds / search)} x brute force (required: 20 x)`,
)
console.log(`products kept: ${bytes} bytes; trains covered: ${runs[0].result.searched} pairs of products`)
if (brute.seconds < 20 * search) process.exitCode = 1
