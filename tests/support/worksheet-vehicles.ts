import { readFileSync } from 'node:fs'
import { join } from 'node:path'

/** A text over and over, cut to a length. */
export const long = (text: string, length: number) =>
  text.repeat(Math.ceil(length / text.length)).slice(0, length)

/** An example vehicle of the project. */
export const exampleProfile = (file: string) =>
  JSON.parse(readFileSync(join(import.meta.dirname, '../../examples/vehicles', file), 'utf8'))

/** Everything that is hard to print, at the lengths that the schema allows: markup, scripts of many kinds, words without a blank. */
export function worstProfile() {
  const stages = Array.from({ length: 18 }, (_, index) => ({
    kind: 'gear-pair',
    name: long(`stage ${index} <b>"bold"</b> & 長い名前 `, 80),
    teeth: { driving: 20 + index, driven: 21 + index },
  }))
  const pulses = [
    ...stages,
    { kind: 'pulse-ring', pulsesPerTurn: 17 },
    { kind: 'pulse-scaler', multiply: 3, divide: 7 },
  ]
  return {
    reference: long('REF/<script>alert(1)</script>/', 100),
    name: '<script>alert("x")</script> Žluťoučký kůň, Скорость, Ταχύμετρο, سرعة, מד מהירות, 速度計 & co',
    make: long('Nobreakingspaceshere', 80),
    model: long('モデル', 80),
    year: 1961,
    tires: { front: { size: '5.60-15' }, rear: { overallDiameter: { mm: 640, plusMinus: 3 } } },
    paths: Array.from({ length: 8 }, (_, index) => ({
      name:
        index === 0
          ? long('Unbrokenname', 80)
          : long(`path ${index + 1} <img src=x onerror=alert(1)> мост `, 80),
      axle: index % 2 === 0 ? 'rear' : 'front',
      stages: index % 2 === 0 ? stages : pulses,
      head: {
        input: index % 2 === 0 ? 'turns' : 'pulses',
        constant: { perKm: index % 2 === 0 ? 480 : 3000, plusMinus: 5 },
        unit: index % 3 === 0 ? 'kmh' : 'mph',
        dialMax: { kmh: 240 },
        offset: { kmh: -2, plusMinus: 1 },
        scalePercent: 2,
        scalePercentPlusMinus: 1,
      },
    })),
    rule: 'de-before-1991',
    topSpeed: { kmh: 230 },
    notes: long('Line one.\nLine two with <i>markup</i>.\n\n', 3000),
  }
}
