import { type Static, Type } from '@sinclair/typebox'
import { BudgetLine, calculationAnswer } from './answers.js'
import { assumptions } from './assumptions.js'
import {
  Area,
  Capacitance,
  Current,
  choice,
  count,
  Energy,
  Frequency,
  Length,
  measureIn,
  named,
  PerDistanceIn,
  Power,
  PowerPerLength,
  plain,
  plainOut,
  Ratio,
  Resistance,
  ResistancePerLength,
  ref,
  Span,
  Speed,
  SpeedIn,
  Temperature,
  TemperatureDifference,
  Time,
  Voltage,
} from './measures.js'
import { lineText } from './texts.js'

const closed = { additionalProperties: false }

export const VoltageIn = measureIn('VoltageIn', 'voltage', {
  min: 1e-4,
  max: 1000,
  description: 'A voltage above zero.',
})
export const LevelVoltageIn = measureIn('LevelVoltageIn', 'voltage', {
  min: -100,
  max: 100,
  description: 'A voltage against ground.',
})
export const CurrentIn = measureIn('CurrentIn', 'current', {
  min: 1e-6,
  max: 1000,
  description: 'A current.',
})
export const ResistanceIn = measureIn('ResistanceIn', 'resistance', {
  min: 1,
  max: 1e8,
  description: 'A resistor.',
})
export const SmallResistanceIn = measureIn('SmallResistanceIn', 'resistance', {
  min: 0,
  max: 100,
  description: 'Resistance of a contact, a source or the body.',
})
export const CapacitanceIn = measureIn('CapacitanceIn', 'capacitance', {
  min: 1e-13,
  max: 1e-3,
  description: 'A capacitance.',
})
export const CapacitancePerLengthIn = measureIn('CapacitancePerLengthIn', 'capacitancePerLength', {
  min: 1e-12,
  max: 1e-8,
  description: 'Capacitance of a lead per length, one line against ground.',
})
export const LeadLengthIn = measureIn('LeadLengthIn', 'span', {
  min: 0.001,
  max: 1000,
  description: 'Length of a wire or lead.',
})
export const RiseTimeIn = measureIn('RiseTimeIn', 'time', {
  min: 1e-9,
  max: 1,
  description: 'Rise time from 30 to 70 % of the supply.',
})
export const PowerIn = measureIn('PowerIn', 'power', { min: 0, max: 1000, description: 'A power.' })
export const EnergyIn = measureIn('EnergyIn', 'energy', {
  min: 1e-3,
  max: 1e5,
  description: 'Energy that a part is rated for.',
  uncertainty: false,
})
export const VoltageRatingIn = measureIn('VoltageRatingIn', 'voltage', {
  min: 1e-4,
  max: 1000,
  description: 'Voltage that a part is rated for.',
  uncertainty: false,
})
export const FuseRatingIn = measureIn('FuseRatingIn', 'current', {
  min: 0.01,
  max: 1000,
  description: 'Rating of a fuse.',
  uncertainty: false,
})
export const GapLimitIn = measureIn('GapLimitIn', 'length', {
  min: 0,
  max: 0.1,
  description: 'Limit of an air gap.',
  uncertainty: false,
})
export const SurfaceIn = measureIn('SurfaceIn', 'area', {
  min: 1e-5,
  max: 10,
  description: 'Outside area of a box.',
})
export const WireAreaIn = measureIn('WireAreaIn', 'area', {
  min: 1e-8,
  max: 5e-4,
  description: 'Area of the copper of one conductor.',
})
export const HeatTransferIn = measureIn('HeatTransferIn', 'heatTransfer', {
  min: 0.1,
  max: 1000,
  description: 'Heat given off to the surroundings: 5 to 15 in still air.',
})
export const AmbientIn = measureIn('AmbientIn', 'temperature', {
  min: 173.15,
  max: 573.15,
  description: 'Temperature of surroundings or of a part.',
})
export const TemperatureMarginIn = measureIn('TemperatureMarginIn', 'temperatureDifference', {
  min: 0,
  max: 100,
  description: 'A difference of two temperatures.',
})
export const SmallLengthIn = measureIn('SmallLengthIn', 'length', {
  min: 0,
  max: 0.1,
  description: 'A gap, width, depth, play or run-out.',
})
export const RingLengthIn = measureIn('RingLengthIn', 'length', {
  min: 1e-4,
  max: 2,
  description: 'Diameter or module of a ring.',
})
export const NoiseFrequencyIn = measureIn('NoiseFrequencyIn', 'frequency', {
  min: 0.1,
  max: 1e9,
  description: 'Frequency at which most of the noise lies.',
})

const Conformity = choice(['conforms', 'does-not-conform', 'not-proven'], {
  description: 'From the probability, with 95 % as the level of proof.',
})
const probability = plainOut('Probability that it holds, 0 to 1.')
const RANGE =
  'Between what it lies, 95 %. The rise goes with 1 over the heat transfer, so the hot side is the longer one; plusMinus of the value is the longer side. That of a wire ends at 300 °C; where it does, the wire may not settle at all.'
const TemperatureRange = named(
  'TemperatureRange',
  Type.Object({ min: ref(Temperature), max: ref(Temperature) }, { ...closed, description: RANGE }),
)
const TemperatureDifferenceRange = named(
  'TemperatureDifferenceRange',
  Type.Object(
    { min: ref(TemperatureDifference), max: ref(TemperatureDifference) },
    { ...closed, description: RANGE },
  ),
)
const budget = Type.Array(ref(BudgetLine), {
  maxItems: 100,
  description: 'What the uncertainty of the main figure comes from, largest first.',
})

// --- pull-up ---------------------------------------------------------------------------------------------------

const BusModeName = choice(['standard', 'fast', 'fast-plus'], {
  description: 'Mode of the bus: 100 kHz, 400 kHz, 1 MHz.',
})

export const BusLoad = named(
  'BusLoad',
  Type.Union(
    [
      Type.Object(
        { capacitance: ref(CapacitanceIn) },
        { ...closed, title: 'by the measured capacitance of the whole bus' },
      ),
      Type.Object(
        {
          length: ref(LeadLengthIn),
          capacitancePerLength: Type.Optional(ref(CapacitancePerLengthIn)),
          devices: Type.Optional(
            count({ minimum: 0, maximum: 128, description: 'Inputs on the bus; left out: 2.' }),
          ),
          capacitancePerDevice: Type.Optional(ref(CapacitanceIn)),
        },
        { ...closed, title: 'by the lead and the inputs on it' },
      ),
    ],
    { description: 'What loads the bus: give exactly one of capacitance, length.' },
  ),
)

export const PullUpRequest = named(
  'PullUpRequest',
  Type.Object(
    {
      supply: ref(VoltageIn),
      bus: ref(BusLoad),
      mode: Type.Optional(BusModeName),
      riseTime: Type.Optional(ref(RiseTimeIn)),
      lowLevel: Type.Optional(ref(VoltageIn)),
      sinkCurrent: Type.Optional(ref(CurrentIn)),
      tolerancePercent: Type.Optional(
        plain({
          minimum: 0,
          maximum: 20,
          description: 'Tolerance of the resistor that is recommended [%]; left out: 1.',
        }),
      ),
      fitted: Type.Optional(ref(ResistanceIn)),
    },
    {
      ...closed,
      description:
        'A two-wire bus. Mode left out: fast. Rise time, low level and sink current left out: those of the mode. fitted: the pull-ups that are there, in parallel.',
      examples: [
        { supply: { v: 5 }, mode: 'fast', bus: { capacitance: { pf: 200, plusMinus: 20 } } },
        {
          supply: { v: 3.3 },
          mode: 'fast',
          bus: { length: { m: 0.6 } },
          fitted: { ohm: 2200, plusMinus: 110 },
        },
        { supply: { v: 5 }, mode: 'fast', bus: { length: { m: 4, plusMinus: 0.2 }, devices: 3 } },
      ],
    },
  ),
)

const BusModeRow = named(
  'BusModeRow',
  Type.Object(
    {
      mode: BusModeName,
      clock: ref(Frequency),
      riseTime: ref(Time),
      feasible: Type.Boolean({ description: 'Whether a pull-up suits both limits.' }),
      min: ref(Resistance),
      max: ref(Resistance),
      longestLead: Type.Optional(ref(Span)),
    },
    {
      ...closed,
      description:
        'What each mode of the bus would need: the mode asked for and slower ones with the output at hand, faster ones with the output that they ask for.',
    },
  ),
)

const PullUpRemedy = named(
  'PullUpRemedy',
  Type.Object(
    {
      kind: choice(
        [
          'shorten-lead',
          'less-capacitance',
          'slower-mode',
          'stronger-driver',
          'lower-supply',
          'separate-segments',
        ],
        { description: 'What to change.' },
      ),
      text: Type.String({ description: 'How, for people.' }),
      lead: Type.Optional(ref(Span)),
      shortenBy: Type.Optional(ref(Span)),
      capacitance: Type.Optional(ref(Capacitance)),
      mode: Type.Optional(BusModeName),
      sinkCurrent: Type.Optional(ref(Current)),
      supply: Type.Optional(ref(Voltage)),
    },
    {
      ...closed,
      description:
        'A change after which a resistor that can be bought is proven to keep both limits, for a bus without a range. A request with its lead, capacitance, mode, sinkCurrent or supply in place of its own, and without riseTime where the mode changes, recommends that resistor.',
    },
  ),
)

const PullUpChoice = named(
  'PullUpChoice',
  Type.Object(
    {
      resistance: ref(Resistance),
      riseTime: ref(Time),
      lowCurrent: ref(Current),
      power: ref(Power),
      probability,
      result: Conformity,
    },
    { ...closed, description: 'One resistor on this bus, and whether it keeps both limits.' },
  ),
)

export const PullUpAnswer = calculationAnswer('PullUpAnswer', 'Pull-up of a two-wire bus.', {
  feasible: Type.Boolean({ description: 'Whether the range holds any resistance.' }),
  min: ref(Resistance),
  max: ref(Resistance),
  busCapacitance: ref(Capacitance),
  capacitanceLimit: ref(Capacitance),
  modes: Type.Array(ref(BusModeRow), { maxItems: 3, description: 'Every mode, slowest first.' }),
  remedies: Type.Array(ref(PullUpRemedy), {
    maxItems: 6,
    description: 'What to do when there is no range; empty when there is one.',
  }),
  budget,
  assumptions,
  recommended: Type.Optional(ref(PullUpChoice)),
  fitted: Type.Optional(ref(PullUpChoice)),
})

// --- supply ----------------------------------------------------------------------------------------------------

export const SupplyRequest = named(
  'SupplyRequest',
  Type.Object(
    {
      system: choice(['6-volt', '12-volt', '24-volt'], { description: 'Electrical system of the car.' }),
      code: Type.Optional(
        choice(['A', 'B', 'C', 'D', 'E', 'F', 'G', 'H'], {
          description:
            'Code of the lowest supply: A 6, B 8, C 9, D 10.5 V for 12 V; E 10, F 16, G 22, H 18 V for 24 V. Left out: C, or F.',
        }),
      ),
      supply: Type.Optional(ref(VoltageIn)),
      loads: Type.Array(
        Type.Object(
          {
            name: lineText(80, 'The load.', { examples: ['display'] }),
            current: ref(CurrentIn),
            feed: choice(['battery', 'converter'], {
              description: 'Fed by the battery as it is, or behind the converter.',
            }),
          },
          closed,
        ),
        { minItems: 1, maxItems: 40, description: 'What is fed, with its current.' },
      ),
      converter: Type.Optional(
        Type.Object(
          {
            kind: choice(['step-down', 'linear'], { description: 'Switching or linear.' }),
            output: ref(VoltageIn),
            efficiencyPercent: Type.Optional(
              plain({
                minimum: 10,
                maximum: 100,
                description: 'Efficiency of a step-down converter [%]; left out: 85, from 80 to 90.',
              }),
            ),
            efficiencyPlusMinusPercent: Type.Optional(
              plain({
                minimum: 0,
                maximum: 50,
                description:
                  'Uncertainty of the efficiency, 95 % [percentage points]; left out: taken as exact.',
              }),
            ),
            ownCurrent: Type.Optional(ref(CurrentIn)),
            dropout: Type.Optional(ref(VoltageIn)),
            minInput: Type.Optional(ref(VoltageRatingIn)),
            maxInput: Type.Optional(ref(VoltageRatingIn)),
            peakInput: Type.Optional(ref(VoltageRatingIn)),
            reversedInput: Type.Optional(ref(VoltageRatingIn)),
            clamp: Type.Optional(ref(VoltageRatingIn)),
            clampEnergy: Type.Optional(ref(EnergyIn)),
          },
          {
            ...closed,
            description:
              'Converter with the ratings of its data sheet: input range, peak for the length of a load dump, reversed input; clamp: what a suppressor ahead of it holds.',
          },
        ),
      ),
      wireRating: Type.Optional(ref(CurrentIn)),
    },
    {
      ...closed,
      description: 'Loads on a car’s supply, with the converter between them.',
      examples: [
        {
          system: '12-volt',
          loads: [{ name: 'display', current: { a: 0.5, plusMinus: 0.02 }, feed: 'converter' }],
          converter: {
            kind: 'step-down',
            output: { v: 5 },
            efficiencyPercent: 85,
            minInput: { v: 6.5 },
            maxInput: { v: 40 },
            clamp: { v: 36 },
            clampEnergy: { j: 40 },
          },
        },
        {
          system: '6-volt',
          code: 'B',
          supply: { v: 6.8, plusMinus: 0.4 },
          loads: [
            { name: 'sensor', current: { ma: 15 }, feed: 'battery' },
            { name: 'lamp', current: { a: 1.2, plusMinus: 0.1 }, feed: 'battery' },
          ],
          wireRating: { a: 9 },
        },
      ],
    },
  ),
)

const SupplyPoint = named(
  'SupplyPoint',
  Type.Object(
    {
      at: choice(['lowest', 'normal', 'highest'], { description: 'Where in the supply range.' }),
      supply: ref(Voltage),
      current: ref(Current),
      converterHeat: ref(Power),
    },
    { ...closed, description: 'Input current and heat at one supply voltage.' },
  ),
)

const SupplyCheck = named(
  'SupplyCheck',
  Type.Object(
    {
      kind: choice(
        [
          'lowest-supply',
          'highest-supply',
          'load-dump',
          'suppressed-load-dump',
          'jump-start',
          'reversed-battery',
          'starting-dip',
          'starting-cranking',
        ],
        { description: 'What the car does.' },
      ),
      required: ref(Voltage),
      result: choice(['passes', 'fails', 'not-known'], {
        description: 'not-known: a rating that the check needs was not given.',
      }),
      text: Type.String({ description: 'The check, for people.' }),
      rated: Type.Optional(ref(Voltage)),
      level: Type.Optional(Type.String({ description: 'Level of the starting profile, I to IV.' })),
    },
    { ...closed, description: 'One level of the standard against the ratings.' },
  ),
)

const ClampDuty = named(
  'ClampDuty',
  Type.Object(
    { peakCurrent: ref(Current), peakPower: ref(Power), energy: ref(Energy) },
    { ...closed, description: 'What a suppressor takes in one load dump.' },
  ),
)

export const SupplyAnswer = calculationAnswer('SupplyAnswer', 'Supply of the electronics from the car.', {
  outputCurrent: ref(Current),
  points: Type.Array(ref(SupplyPoint), { maxItems: 3, description: 'Over the range of the supply.' }),
  largestCurrent: ref(Current),
  checks: Type.Array(ref(SupplyCheck), {
    maxItems: 20,
    description: 'Ratings of the converter against the standard; empty without a converter.',
  }),
  budget,
  assumptions,
  minFuse: Type.Optional(ref(Current)),
  maxFuse: Type.Optional(ref(Current)),
  clampDuty: Type.Optional(
    Type.Object(
      { mildest: ref(ClampDuty), worst: ref(ClampDuty) },
      { ...closed, description: 'Duty of the suppressor over the range of the standard’s load dumps.' },
    ),
  ),
})

// --- wire ------------------------------------------------------------------------------------------------------

export const WireSize = named(
  'WireSize',
  Type.Union(
    [
      Type.Object(
        {
          awg: count({
            minimum: -3,
            maximum: 40,
            description: 'American gauge; 0 is 1/0, -1 is 2/0.',
          }),
        },
        { ...closed, title: 'by gauge' },
      ),
      Type.Object({ area: ref(WireAreaIn) }, { ...closed, title: 'by the area of the copper' }),
    ],
    { description: 'Size of a wire: give exactly one of awg, area.' },
  ),
)

export const WireRequest = named(
  'WireRequest',
  Type.Object(
    {
      supply: ref(VoltageIn),
      current: ref(CurrentIn),
      length: ref(LeadLengthIn),
      size: ref(WireSize),
      returnPath: Type.Optional(
        choice(['wire', 'body'], {
          description:
            'The way back: a second wire of the same size and length, or the body. Left out: wire.',
        }),
      ),
      bodyResistance: Type.Optional(ref(SmallResistanceIn)),
      contactResistance: Type.Optional(ref(SmallResistanceIn)),
      sourceResistance: Type.Optional(ref(SmallResistanceIn)),
      ambient: Type.Optional(ref(AmbientIn)),
      insulation: Type.Optional(
        Type.Object(
          { thickness: Type.Optional(ref(SmallLengthIn)), limit: Type.Optional(ref(AmbientIn)) },
          { ...closed, description: 'Insulation: wall thickness, and the temperature that it stands.' },
        ),
      ),
      heatTransfer: Type.Optional(ref(HeatTransferIn)),
      allowedDropPercent: Type.Optional(
        plain({
          minimum: 0.1,
          maximum: 50,
          description: 'Drop that is allowed, of the supply [%]; left out: 3.',
        }),
      ),
      fuse: Type.Optional(ref(FuseRatingIn)),
    },
    {
      ...closed,
      description: 'A copper wire from source to load; length is one way.',
      examples: [
        {
          supply: { v: 12 },
          current: { a: 2, plusMinus: 0.1 },
          length: { m: 4 },
          size: { awg: 18 },
          fuse: { a: 5 },
        },
        {
          supply: { v: 6.3 },
          current: { a: 8 },
          length: { ft: 10 },
          size: { area: { mm2: 1.5 } },
          returnPath: 'body',
          ambient: { c: 50, plusMinus: 10 },
          insulation: { thickness: { mm: 0.6 }, limit: { c: 90 } },
        },
      ],
    },
  ),
)

const WireSizeOut = named(
  'WireSizeRow',
  Type.Object(
    {
      area: ref(Area),
      suits: Type.Boolean({
        description:
          'Drop within what is allowed, insulation proven to hold, and a fuse that carries the load and protects it.',
      }),
      awg: Type.Optional(Type.Integer({ description: 'American gauge.', 'x-dimensionless': true })),
      dropPercent: Type.Optional(plainOut('Drop of the supply [%]; absent when the wire never settles.')),
      conductorTemperature: Type.Optional(ref(Temperature)),
    },
    { ...closed, description: 'A usual size at the same current, length and surroundings.' },
  ),
)

export const WireAnswer = calculationAnswer('WireAnswer', 'Drop, heating and fuse of a wire.', {
  diameter: ref(Length),
  area: ref(Area),
  resistancePerLengthAt20: ref(ResistancePerLength),
  resistancePerLength: ref(ResistancePerLength),
  loopResistance: ref(Resistance),
  drop: ref(Voltage),
  dropPercent: ref(Ratio),
  dropWithinAllowed: Conformity,
  loadVoltage: ref(Voltage),
  heat: ref(Power),
  heatPerLength: ref(PowerPerLength),
  conductorTemperature: ref(Temperature),
  conductorTemperatureRange: ref(TemperatureRange),
  insulation: Type.Object(
    { limit: ref(Temperature), probability, result: Conformity },
    { ...closed, description: 'Whether the insulation stands the temperature of the conductor.' },
  ),
  largestCurrent: ref(Current),
  shortCircuitCurrent: ref(Current),
  sizes: Type.Array(ref(WireSizeOut), {
    maxItems: 20,
    description: 'Usual sizes, thinnest first, of the way of counting that was used.',
  }),
  budget,
  assumptions,
  minFuse: Type.Optional(ref(Current)),
  maxFuse: Type.Optional(ref(Current)),
  fuse: Type.Optional(
    Type.Object(
      {
        rating: ref(Current),
        carriesLoad: Type.Boolean({ description: 'Whether the load is at most 75 % of the rating.' }),
        protectsWire: Conformity,
        probability,
        opensOnShort: Type.Boolean({
          description:
            'Whether a short circuit at the far end draws twice the rating, which opens it within 5 s.',
        }),
      },
      { ...closed, description: 'The fuse that was asked about.' },
    ),
  ),
})

// --- threshold -------------------------------------------------------------------------------------------------

export const ThresholdRequest = named(
  'ThresholdRequest',
  Type.Object(
    {
      supply: ref(VoltageIn),
      resistors: Type.Optional(
        Type.Object(
          { toSupply: ref(ResistanceIn), toGround: ref(ResistanceIn), fromOutput: ref(ResistanceIn) },
          { ...closed, description: 'The three resistors that are fitted; left out, they are chosen.' },
        ),
      ),
      hysteresis: Type.Optional(ref(VoltageIn)),
      outputHigh: Type.Optional(ref(LevelVoltageIn)),
      outputLow: Type.Optional(ref(LevelVoltageIn)),
      bias: Type.Optional(ref(LevelVoltageIn)),
      tolerancePercent: Type.Optional(
        plain({
          minimum: 0,
          maximum: 20,
          description: 'Tolerance of the resistors that are chosen [%]; left out: 1.',
        }),
      ),
      sensor: Type.Optional(
        Type.Object(
          {
            amplitude: ref(VoltageIn),
            at: ref(SpeedIn),
            pulses: ref(PerDistanceIn),
            amplitudeAtTopSpeed: Type.Optional(ref(VoltageIn)),
          },
          {
            ...closed,
            description:
              'A magnetic sensor: peak of its open voltage at a low speed, its pulses per distance, and its peak at topSpeed where that was measured (else taken as proportional to speed).',
          },
        ),
      ),
      topSpeed: Type.Optional(ref(SpeedIn)),
      lowestSpeed: Type.Optional(ref(SpeedIn)),
      noise: Type.Optional(
        Type.Object(
          { peakToPeak: ref(VoltageIn), frequency: Type.Optional(ref(NoiseFrequencyIn)) },
          {
            ...closed,
            description: 'Noise at the input; without its frequency the filter is not counted on.',
          },
        ),
      ),
      filter: Type.Optional(
        Type.Object(
          { resistance: ref(ResistanceIn), capacitance: ref(CapacitanceIn) },
          {
            ...closed,
            description: 'The low-pass that is fitted; left out, it is chosen for the top speed.',
          },
        ),
      ),
      cornerRatio: Type.Optional(
        plain({
          minimum: 0.1,
          maximum: 20,
          description: 'Corner of a chosen filter over the highest frequency; left out: 2.',
        }),
      ),
    },
    {
      ...closed,
      description: 'Comparator input: resistors that are fitted, or a sensor to choose them for.',
      examples: [
        {
          supply: { v: 5 },
          resistors: {
            toSupply: { kohm: 10, plusMinus: 0.1 },
            toGround: { kohm: 10, plusMinus: 0.1 },
            fromOutput: { kohm: 100, plusMinus: 1 },
          },
        },
        {
          supply: { v: 5, plusMinus: 0.1 },
          sensor: { amplitude: { v: 1.5, plusMinus: 0.2 }, at: { kmh: 20 }, pulses: { perKm: 4000 } },
          topSpeed: { kmh: 160 },
          lowestSpeed: { kmh: 5 },
          noise: { peakToPeak: { mv: 40 }, frequency: { hz: 20000 } },
        },
      ],
    },
  ),
)

export const ThresholdAnswer = calculationAnswer(
  'ThresholdAnswer',
  'Thresholds of a comparator and what a sensor makes of them.',
  {
    resistors: Type.Object(
      {
        toSupply: ref(Resistance),
        toGround: ref(Resistance),
        fromOutput: ref(Resistance),
        chosen: Type.Boolean({ description: 'Chosen here, not given.' }),
      },
      { ...closed, description: 'The resistors.' },
    ),
    upper: ref(Voltage),
    lower: ref(Voltage),
    hysteresis: ref(Voltage),
    midpoint: ref(Voltage),
    bias: ref(Voltage),
    budget,
    assumptions,
    filter: Type.Optional(
      Type.Object(
        {
          resistance: ref(Resistance),
          capacitance: ref(Capacitance),
          cornerFrequency: ref(Frequency),
          chosen: Type.Boolean({ description: 'Chosen here, not given.' }),
          delay: ref(Time),
          gainAtTopSpeed: Type.Optional(ref(Ratio)),
          noiseGain: Type.Optional(ref(Ratio)),
        },
        { ...closed, description: 'The low-pass ahead of the comparator.' },
      ),
    ),
    sensor: Type.Optional(
      Type.Object(
        {
          requiredAmplitude: ref(Voltage),
          lowestSpeed: Type.Optional(ref(Speed)),
          highestFrequency: Type.Optional(ref(Frequency)),
          openCircuitAtTopSpeed: Type.Optional(ref(Voltage)),
          inputAtTopSpeed: Type.Optional(ref(Voltage)),
        },
        {
          ...closed,
          description:
            'Peak that the comparator needs, lowest speed that gives it, and what comes at top speed.',
        },
      ),
    ),
    hysteresisOverNoise: Type.Optional(ref(Ratio)),
  },
)

// --- air gap ---------------------------------------------------------------------------------------------------

const ringParts = {
  teeth: count({ minimum: 1, maximum: 1000, description: 'Teeth, or pairs of magnets, of the ring.' }),
  toothWidth: Type.Optional(ref(SmallLengthIn)),
  toothDepth: Type.Optional(ref(SmallLengthIn)),
}

export const RingShape = named(
  'RingShape',
  Type.Union(
    [
      Type.Object(
        { ...ringParts, outsideDiameter: ref(RingLengthIn) },
        { ...closed, title: 'by its outside diameter' },
      ),
      Type.Object({ ...ringParts, module: ref(RingLengthIn) }, { ...closed, title: 'by its module' }),
    ],
    { description: 'A pulse ring: give exactly one of outsideDiameter, module.' },
  ),
)

export const AirGapRequest = named(
  'AirGapRequest',
  Type.Object(
    {
      sensor: choice(['active', 'variable-reluctance'], {
        description: 'With electronics of its own, or a coil and magnet.',
      }),
      gap: ref(SmallLengthIn),
      ring: ref(RingShape),
      runOut: Type.Optional(ref(SmallLengthIn)),
      play: Type.Optional(ref(SmallLengthIn)),
      limits: Type.Optional(
        Type.Object(
          { min: Type.Optional(ref(GapLimitIn)), max: Type.Optional(ref(GapLimitIn)) },
          { ...closed, description: 'Limits of the gap from the data sheet of the sensor.' },
        ),
      ),
    },
    {
      ...closed,
      description:
        'Air gap of a pick-up over its ring. gap: at any one place of the ring; run-out and play tell how far it may be off the mean.',
      examples: [
        {
          sensor: 'active',
          gap: { mm: 0.8, plusMinus: 0.1 },
          ring: { teeth: 40, outsideDiameter: { mm: 100 }, toothWidth: { mm: 3.9, plusMinus: 0.1 } },
          runOut: { mm: 0.15, plusMinus: 0.03 },
        },
        {
          sensor: 'variable-reluctance',
          gap: { mm: 0.5 },
          ring: { teeth: 16, module: { mm: 4 } },
          runOut: { mm: 0.1 },
          play: { mm: 0.05 },
          limits: { min: { mm: 0.3 }, max: { mm: 1 } },
        },
      ],
    },
  ),
)

export const AirGapAnswer = calculationAnswer('AirGapAnswer', 'Air gap and ring of a pick-up.', {
  module: ref(Length),
  pitch: ref(Length),
  diameter: ref(Length),
  smallestGap: ref(Length),
  largestGap: ref(Length),
  amplitudeModulationPercent: ref(Ratio),
  oncePerTurnErrorPercent: ref(Ratio),
  checks: Type.Array(
    Type.Object(
      {
        kind: choice(
          ['clear-of-ring', 'min-gap', 'max-gap', 'gap-over-module', 'tooth-share', 'tooth-depth', 'run-out'],
          { description: 'What is checked.' },
        ),
        text: Type.String({ description: 'What holds if it conforms.' }),
        probability,
        result: Conformity,
      },
      closed,
    ),
    { maxItems: 10, description: 'Whether sensor and ring suit each other.' },
  ),
  budget,
  assumptions,
  toothSharePercent: Type.Optional(ref(Ratio)),
})

// --- enclosure -------------------------------------------------------------------------------------------------

export const EnclosureRequest = named(
  'EnclosureRequest',
  Type.Object(
    {
      place: Type.Optional(
        choice(['dashboard-in-sun', 'engine-compartment'], {
          description: 'Where the box sits; ambient takes its place.',
        }),
      ),
      ambient: Type.Optional(ref(AmbientIn)),
      power: Type.Optional(ref(PowerIn)),
      surface: Type.Optional(ref(SurfaceIn)),
      heatTransfer: Type.Optional(ref(HeatTransferIn)),
      margin: Type.Optional(ref(TemperatureMarginIn)),
      materials: Type.Optional(
        Type.Array(
          Type.Union(
            [
              Type.Object(
                {
                  kind: choice(['pla', 'petg', 'abs', 'pc'], { description: 'Plastic of the box.' }),
                },
                { ...closed, title: 'a built-in material' },
              ),
              Type.Object(
                {
                  name: lineText(60, 'The material.', { examples: ['glass-filled nylon'] }),
                  glassTransition: ref(AmbientIn),
                },
                { ...closed, title: 'a material of your own' },
              ),
            ],
            { description: 'Give kind, or name with glassTransition.' },
          ),
          { minItems: 1, maxItems: 20, description: 'Left out: every built-in material.' },
        ),
      ),
      partsRatedTo: Type.Optional(ref(AmbientIn)),
    },
    {
      ...closed,
      description: 'A closed box in a car: give place or ambient; power needs surface.',
      examples: [
        { place: 'dashboard-in-sun' },
        {
          ambient: { c: 55, plusMinus: 5 },
          power: { w: 1.2, plusMinus: 0.2 },
          surface: { cm2: 216 },
          materials: [
            { kind: 'petg' },
            { name: 'glass-filled nylon', glassTransition: { c: 70, plusMinus: 10 } },
          ],
          partsRatedTo: { c: 85 },
        },
      ],
    },
  ),
)

export const EnclosureAnswer = calculationAnswer(
  'EnclosureAnswer',
  'Temperature of a box and its material.',
  {
    ambient: ref(Temperature),
    rise: ref(TemperatureDifference),
    riseRange: ref(TemperatureDifferenceRange),
    boxTemperature: ref(Temperature),
    boxTemperatureRange: ref(TemperatureRange),
    materials: Type.Array(
      Type.Object(
        {
          name: Type.String({ description: 'The material.' }),
          glassTransition: ref(Temperature),
          usableTo: ref(Temperature),
          margin: ref(TemperatureDifference),
          marginRange: ref(TemperatureDifferenceRange),
          probability,
          result: Conformity,
        },
        closed,
      ),
      { maxItems: 20, description: 'Whether each material stands the box’s temperature.' },
    ),
    budget,
    assumptions,
    parts: Type.Optional(
      Type.Object(
        { ratedTo: ref(Temperature), probability, result: Conformity },
        { ...closed, description: 'Whether the parts inside stand it.' },
      ),
    ),
  },
)

export type BusLoadShape = Static<typeof BusLoad>
export type WireSizeShape = Static<typeof WireSize>
