import type { Stage } from '../../src/domain/drive-paths/path.js'
import { tableRule } from '../../src/domain/gauges/verdicts.js'
import { exact } from '../../src/domain/measure/figure.js'
import { toSi } from '../../src/domain/measure/units.js'
import { tireGeometry } from '../../src/domain/tires/geometry.js'
import type { Vehicle } from '../../src/domain/vehicles/vehicle.js'

const stage = (kind: Stage['kind'], name: string, driving: number, driven: number): Stage => ({
  kind,
  name,
  ratio: exact(driving / driven),
  teeth: { driving, driven },
})

/** An invented car for the examples in the docstrings of src/domain/vehicles: 760 turns a mile, 3.70 axle, 7/20 drive, 1000-turn head, which reads 1.6 % low. */
export const EXAMPLE_VEHICLE: Vehicle = {
  tires: {
    front: tireGeometry({ turnsPerM: exact(toSi('perDistance', 'perMile', 760)) }),
    rear: tireGeometry({ turnsPerM: exact(toSi('perDistance', 'perMile', 760)) }),
  },
  paths: [
    {
      name: 'speedometer',
      axle: 'rear',
      stages: [stage('final-drive', 'final drive', 37, 10), stage('gear-pair', 'speedometer drive', 7, 20)],
      head: {
        input: 'turns',
        constantPerM: exact(toSi('perDistance', 'perMile', 1000)),
        scale: exact(1),
        offsetMPerS: exact(0),
      },
      unit: 'mph',
    },
  ],
  rule: tableRule('un-r39'),
}
