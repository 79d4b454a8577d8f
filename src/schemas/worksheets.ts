import { type Static, Type } from '@sinclair/typebox'
import { STANDINGS } from '../domain/measure/sources.js'
import { calculationAnswer, Series, SourceIdShape } from './answers.js'
import { BenchRow } from './cable-bench.js'
import { Distance, Length, PerDistance, Ratio, Speed, Time } from './measures.js'
import { listOf, ref, shape } from './named-shapes.js'
import { choice, plainOut } from './plain-values.js'
import { Remedy } from './remedies.js'
import { Id, Instant, Version } from './stored.js'
import { CheckedPath, Finding } from './vehicle-checks.js'

const standing = choice(STANDINGS, {
  description: 'How well it is known; GET /v1/sources explains each word.',
})

const PAPERS = ['a4', 'letter'] as const
export type PaperChoice = (typeof PAPERS)[number]

/** The paper that a worksheet is printed on. */
export const WorksheetQuery = Type.Object(
  {
    paper: Type.Optional(
      choice(PAPERS, {
        default: 'a4',
        description: 'Paper of the PDF. HTML prints on either, and JSON is the same for both.',
      }),
    ),
  },
  { additionalProperties: false },
)

const WorksheetVehicle = shape('WorksheetVehicle', 'The vehicle that the worksheet is about.', {
  name: Type.String({ description: 'Name of the vehicle.' }),
  make: Type.Optional(Type.String({ description: 'Make of the vehicle.' })),
  model: Type.Optional(Type.String({ description: 'Model of the vehicle.' })),
  year: Type.Optional(Type.Integer({ description: 'Year of manufacture.', 'x-dimensionless': true })),
  reference: Type.Optional(Type.String({ description: 'Your own reference.' })),
  topSpeed: Type.Optional(ref(Speed, 'Highest speed of the vehicle, as given.')),
  notes: Type.Optional(Type.String({ description: 'Notes of the profile.' })),
})

const WorksheetRule = shape(
  'WorksheetRule',
  'The rule on accuracy that the vehicle is checked against; GET /v1/gauges/rules lists them.',
  {
    id: Type.String({ description: 'Id of the rule, or custom.' }),
    title: Type.String({ description: 'The rule.' }),
    applies: Type.String({ description: "To which vehicles, and in which range; empty for the caller's." }),
  },
)

const WorksheetLink = shape(
  'WorksheetLink',
  'A link of the chain from wheel to dial: its ratio, and the turns or pulses per distance that leave it; of the head, those at which it reads true.',
  {
    kind: choice(
      [
        'wheel',
        'final-drive',
        'gear-pair',
        'angle-drive',
        'adapter',
        'transfer-case',
        'pulse-ring',
        'pulse-scaler',
        'head',
      ],
      { description: 'What it is.' },
    ),
    name: Type.String({ description: 'What it is called.' }),
    setting: Type.String({ description: 'Its teeth, pulses or constant in words; empty: only its ratio.' }),
    ratio: Type.Optional(ref(Ratio, 'Ratio of the link; absent for the wheel, a pulse ring and the head.')),
    turns: Type.Optional(ref(PerDistance, 'Turns per distance that leave it; absent where pulses do.')),
    pulses: Type.Optional(ref(PerDistance, 'Pulses per distance that leave it; absent where turns do.')),
  },
)

const RoadTestMark = Type.Object(
  {
    indicatedToHold: ref(Speed, 'Indicated speed to hold.'),
    true: ref(Speed, 'True speed expected then.'),
    time: ref(Time, 'Time over the course expected then.'),
  },
  {
    additionalProperties: false,
    description: 'Hold the dial at this mark: the true speed and the time over the course that are expected.',
  },
)

const WorksheetRoadTest = shape(
  'WorksheetRoadTest',
  'A form for the road test: indicated speed to hold, and the true speed and time expected.',
  {
    course: ref(Distance, 'Length of the measured course.'),
    marks: Type.Array(RoadTestMark, { maxItems: 10, description: 'Marks of the dial, ascending.' }),
  },
)

export const WorksheetInput = shape('WorksheetInput', 'A quantity that the answer is based on.', {
  field: Type.String({
    description: 'Field of the profile that it is, or that replaces it: JSON Pointer.',
  }),
  what: Type.String({ description: 'What it is.' }),
  standing,
  length: Type.Optional(ref(Length, 'The value, where it is a length.')),
  perDistance: Type.Optional(ref(PerDistance, 'The value, where it is turns or pulses per distance.')),
  ratio: Type.Optional(ref(Ratio, 'The value, where it is a ratio.')),
  speed: Type.Optional(ref(Speed, 'The value, where it is a speed.')),
  percent: Type.Optional(plainOut('A percentage [%].')),
  percentPlusMinus: Type.Optional(plainOut('Uncertainty of percent, 95 % [percentage points].')),
})

export const WorksheetPath = shape('WorksheetPath', 'One drive path on a worksheet.', {
  ...CheckedPath.properties,
  axle: choice(['front', 'rear'], { description: 'Axle whose wheels drive it.' }),
  unit: choice(['mph', 'kmh'], { description: 'Unit of its dial.' }),
  dialMax: Type.Optional(ref(Speed, 'Highest mark of the dial; absent where it is not given.')),
  chain: listOf(WorksheetLink, 22, 'The links from wheel to dial, as computed from the parts.'),
  series: listOf(
    Series,
    5,
    'What plot shows, in the unit of the dial: error, its low and high end of uncertainty, and where the rule has them its lower and upper limit.',
  ),
  limitsAre: choice(['lines', 'points'], {
    description: 'Whether the limits of the rule hold between their points, or only at them.',
  }),
  plot: Type.String({
    description:
      'Error against true speed as an SVG document that stands alone or inside a page: no style, no script, ids of its own.',
  }),
  bench: listOf(BenchRow, 200, 'How fast to drive the head on the bench, and what it should show.'),
  roadTest: ref(WorksheetRoadTest, 'Form for a test on the road.'),
})

const inputs = (description: string) => Type.Array(ref(WorksheetInput), { maxItems: 250, description })

export const Worksheet = calculationAnswer(
  'Worksheet',
  'The content of a worksheet, unrounded; HTML and PDF show the same.',
  {
    date: Type.String({ format: 'date', description: 'Day on which it was made, UTC (RFC 3339).' }),
    vehicle: ref(WorksheetVehicle, 'The vehicle.'),
    revision: Type.Optional(
      Type.Object(
        { id: Id, version: Version, changedAt: Instant('When this version was made') },
        {
          additionalProperties: false,
          description: 'Version of the stored vehicle; absent for a vehicle that is not stored.',
        },
      ),
    ),
    rule: ref(WorksheetRule, 'The rule that it is judged by.'),
    paths: listOf(WorksheetPath, 8, 'In the order of the profile.'),
    findings: listOf(Finding, 200, 'Most severe first.'),
    remedies: listOf(Remedy, 100, 'Best first.'),
    measured: inputs('What was measured on this vehicle.'),
    assumed: inputs('What was taken as stated, from tables or from practice, and not measured.'),
    references: Type.Array(
      Type.Object(
        {
          id: ref(SourceIdShape, 'Id of the source.'),
          title: Type.String({ description: 'The source.' }),
          standing,
        },
        { additionalProperties: false, description: 'A source.' },
      ),
      { maxItems: 100, description: 'The sources with their titles.' },
    ),
  },
)

const { plot: _plot, ...computedOfPath } = WorksheetPath.properties

/** What is computed of a worksheet: all but its plots. */
export const ComputedWorksheet = Type.Object({
  ...Worksheet.properties,
  paths: Type.Array(Type.Object(computedOfPath)),
})

export type WorksheetShape = Static<typeof Worksheet>
export type WorksheetPathShape = Static<typeof WorksheetPath>
/** A worksheet before its plots are drawn. */
export type WorksheetContent = Omit<WorksheetShape, 'paths'> & {
  paths: Array<Omit<WorksheetPathShape, 'plot'>>
}
