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
  'Range that contains the value with 95 %. It is not symmetric, because the rise is proportional to 1 / heat transfer: the hot side is longer, and plusMinus of the value is that side. For a wire it ends at 300 °C; if it does, the wire may not reach a steady temperature.'
const TemperatureRange = named(
  'TemperatureRange',
  Type.Object(
    { min: ref(Temperature, 'Lower end.'), max: ref(Temperature, 'Upper end.') },
    { ...closed, description: RANGE },
  ),
)
const TemperatureDifferenceRange = named(
  'TemperatureDifferenceRange',
  Type.Object(
    { min: ref(TemperatureDifference, 'Lower end.'), max: ref(TemperatureDifference, 'Upper end.') },
    { ...closed, description: RANGE },
  ),
)
const budget = Type.Array(ref(BudgetLine), {
  maxItems: 100,
  description: 'What the uncertainty of the main result comes from, largest first.',
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
        {
          capacitance: ref(
            CapacitanceIn,
            'Measured capacitance of one line with all devices connected.',
            'bus: capacitance',
          ),
        },
        { ...closed, title: 'by the measured capacitance of the whole bus' },
      ),
      Type.Object(
        {
          length: ref(LeadLengthIn, 'Length of the lead.', 'bus: length of the lead'),
          capacitancePerLength: Type.Optional(
            ref(
              CapacitancePerLengthIn,
              'Capacitance of the lead per length, one line against ground; left out: 100 pF/m, from 50 to 150.',
              'bus: capacitance of the lead per length',
            ),
          ),
          devices: Type.Optional(
            count({ minimum: 0, maximum: 128, description: 'Inputs on the bus; left out: 2.' }),
          ),
          capacitancePerDevice: Type.Optional(
            ref(
              CapacitanceIn,
              'Input capacitance of one device; left out: 10 pF, the most that an input may have.',
              'bus: capacitance of an input',
            ),
          ),
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
      supply: ref(VoltageIn, 'Supply voltage of the bus, to which the pull-ups go.', 'supply'),
      bus: ref(BusLoad, 'Capacitive load of the bus, by its capacitance or by its lead.'),
      mode: Type.Optional(BusModeName),
      riseTime: Type.Optional(
        ref(
          RiseTimeIn,
          'Longest rise time from 30 to 70 % of the supply; left out: that of the mode.',
          'rise time',
        ),
      ),
      lowLevel: Type.Optional(
        ref(
          VoltageIn,
          'Highest voltage that counts as low; left out: 0.4 V, or a fifth of a supply of 2 V and less.',
          'low level',
        ),
      ),
      sinkCurrent: Type.Optional(
        ref(
          CurrentIn,
          'Current that an output can sink at lowLevel; left out: that of the mode.',
          'sink current',
        ),
      ),
      tolerancePercent: Type.Optional(
        plain({
          minimum: 0,
          maximum: 20,
          description: 'Tolerance of the resistor that is recommended [%]; left out: 1.',
        }),
      ),
      fitted: Type.Optional(
        ref(
          ResistanceIn,
          'Pull-up resistance of the bus as built, all resistors in parallel, to be checked. Left out: the answer only recommends one.',
          'fitted pull-up',
        ),
      ),
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
      clock: ref(Frequency, 'Highest clock rate of the mode.'),
      riseTime: ref(Time, 'Longest rise time that the mode allows.'),
      feasible: Type.Boolean({ description: 'Whether a pull-up suits both limits.' }),
      min: ref(Resistance, 'Smallest resistance: below it an output cannot pull the line low.'),
      max: ref(Resistance, 'Largest resistance: above it the line rises too slowly.'),
      longestLead: Type.Optional(
        ref(
          Span,
          'Longest lead that leaves a usable resistance; absent when the bus was given by its capacitance, or no lead is short enough.',
        ),
      ),
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
      lead: Type.Optional(ref(Span, 'Length of the lead after the change; only with shorten-lead.')),
      shortenBy: Type.Optional(ref(Span, 'How much to take off the lead; only with shorten-lead.')),
      capacitance: Type.Optional(
        ref(Capacitance, 'Bus capacitance to reach; only with less-capacitance and separate-segments.'),
      ),
      mode: Type.Optional(BusModeName),
      sinkCurrent: Type.Optional(
        ref(Current, 'Current that the output must sink; only with stronger-driver.'),
      ),
      supply: Type.Optional(ref(Voltage, 'Supply voltage after the change; only with lower-supply.')),
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
      resistance: ref(Resistance, 'Resistance of the pull-up.'),
      riseTime: ref(Time, 'Rise time from 30 to 70 % of the supply with it.'),
      lowCurrent: ref(Current, 'Current through it while the line is low.'),
      power: ref(Power, 'Power in it while the line is low.'),
      probability,
      result: Conformity,
    },
    { ...closed, description: 'One resistor on this bus, and whether it keeps both limits.' },
  ),
)

export const PullUpAnswer = calculationAnswer('PullUpAnswer', 'Pull-up of a two-wire bus.', {
  feasible: Type.Boolean({ description: 'Whether the range holds any resistance.' }),
  min: ref(Resistance, 'Smallest resistance that the outputs can pull low.'),
  max: ref(Resistance, 'Largest resistance with which the line rises fast enough.'),
  busCapacitance: ref(Capacitance, 'Capacitance of one line.'),
  capacitanceLimit: ref(Capacitance, 'Highest capacitance that the mode specifies.'),
  modes: Type.Array(ref(BusModeRow), { maxItems: 3, description: 'Every mode, slowest first.' }),
  remedies: Type.Array(ref(PullUpRemedy), {
    maxItems: 6,
    description: 'What to do when there is no range; empty when there is one.',
  }),
  budget,
  assumptions,
  recommended: Type.Optional(
    ref(PullUpChoice, 'The nearest resistor of the E24 series to choose; absent when there is no range.'),
  ),
  fitted: Type.Optional(
    ref(PullUpChoice, 'The resistor of the bus as built, checked; absent if none was given.'),
  ),
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
      supply: Type.Optional(
        ref(
          VoltageIn,
          'Voltage at which the car runs most of the time; left out: the nominal one of the system.',
        ),
      ),
      loads: Type.Array(
        Type.Object(
          {
            name: lineText(80, 'The load.', { examples: ['display'] }),
            current: ref(CurrentIn, 'Current that the load draws, at its own supply.'),
            feed: choice(['battery', 'converter'], {
              description: 'Fed by the battery as it is, or behind the converter.',
            }),
          },
          closed,
        ),
        { minItems: 1, maxItems: 40, description: 'The loads, each with its current.' },
      ),
      converter: Type.Optional(
        Type.Object(
          {
            kind: choice(['step-down', 'linear'], { description: 'Switching or linear.' }),
            output: ref(VoltageIn, 'Output voltage of the converter.'),
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
            ownCurrent: Type.Optional(
              ref(
                CurrentIn,
                'Current that the converter itself draws, beyond what its efficiency covers; left out: none.',
              ),
            ),
            dropout: Type.Optional(
              ref(
                VoltageIn,
                'Least difference of input and output voltage at which it regulates; left out: 2 V for a linear converter, 1 V for a step-down one.',
              ),
            ),
            minInput: Type.Optional(
              ref(VoltageRatingIn, 'Lowest input voltage by the data sheet; left out: output plus dropout.'),
            ),
            maxInput: Type.Optional(
              ref(
                VoltageRatingIn,
                'Highest steady input voltage by the data sheet; left out: checks that need it are not-known.',
              ),
            ),
            peakInput: Type.Optional(
              ref(
                VoltageRatingIn,
                'Highest input voltage for the length of a load dump; left out: maxInput.',
              ),
            ),
            reversedInput: Type.Optional(
              ref(
                VoltageRatingIn,
                'Reversed input voltage that it withstands; left out: the check is not-known.',
              ),
            ),
            clamp: Type.Optional(
              ref(
                VoltageRatingIn,
                'Clamping voltage of the suppressor ahead of it; left out: there is none.',
              ),
            ),
            clampEnergy: Type.Optional(
              ref(
                EnergyIn,
                'Energy that the suppressor can absorb in one load dump; needs clamp. Left out: the check is not-known.',
              ),
            ),
          },
          {
            ...closed,
            dependentRequired: {
              efficiencyPlusMinusPercent: ['efficiencyPercent'],
              clampEnergy: ['clamp'],
            },
            dependentSchemas: { efficiencyPercent: { properties: { kind: { enum: ['step-down'] } } } },
            description:
              'Converter with the ratings of its data sheet, needed by a load with feed converter: input range, peak for the length of a load dump, reversed input; clamp: the clamping voltage of a suppressor ahead of it.',
          },
        ),
      ),
      wireRating: Type.Optional(
        ref(CurrentIn, 'Current that the feeding wire carries continuously; left out: no maxFuse.'),
      ),
    },
    {
      ...closed,
      dependentSchemas: {
        loads: {
          anyOf: [
            { required: ['converter'] },
            { properties: { loads: { items: { properties: { feed: { enum: ['battery'] } } } } } },
          ],
        },
      },
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
      supply: ref(Voltage, 'Supply voltage there.'),
      current: ref(Current, 'Current drawn from the battery there.'),
      converterHeat: ref(Power, 'Heat in the converter there.'),
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
        { description: 'Condition of the supply.' },
      ),
      required: ref(Voltage, 'Voltage that must be withstood, or at which it must still work.'),
      result: choice(['passes', 'fails', 'not-known'], {
        description: 'not-known: a rating that the check needs was not given.',
      }),
      text: Type.String({ description: 'The check, for people.' }),
      rated: Type.Optional(ref(Voltage, 'Rating that was compared; absent where it was not given.')),
      level: Type.Optional(Type.String({ description: 'Level of the starting profile, I to IV.' })),
    },
    { ...closed, description: 'One level of the standard against the ratings.' },
  ),
)

const ClampDuty = named(
  'ClampDuty',
  Type.Object(
    {
      peakCurrent: ref(Current, 'Peak current through the suppressor.'),
      peakPower: ref(Power, 'Peak power in the suppressor.'),
      energy: ref(Energy, 'Energy that it absorbs.'),
    },
    { ...closed, description: 'What a suppressor takes in one load dump.' },
  ),
)

export const SupplyAnswer = calculationAnswer('SupplyAnswer', 'Supply of the electronics from the car.', {
  outputCurrent: ref(Current, 'Current of the loads behind the converter.'),
  points: Type.Array(ref(SupplyPoint), { maxItems: 3, description: 'Over the range of the supply.' }),
  largestCurrent: ref(Current, 'Largest current from the battery over the range of the supply.'),
  checks: Type.Array(ref(SupplyCheck), {
    maxItems: 20,
    description: 'Ratings of the converter against the standard; empty without a converter.',
  }),
  budget,
  assumptions,
  minFuse: Type.Optional(
    ref(
      Current,
      'Smallest standard fuse that carries the largest current at 75 % of its rating; absent when none is large enough.',
    ),
  ),
  maxFuse: Type.Optional(
    ref(
      Current,
      'Largest standard fuse that protects the wire; absent without wireRating, or when none is small enough.',
    ),
  ),
  clampDuty: Type.Optional(
    Type.Object(
      {
        mildest: ref(ClampDuty, 'In the mildest load dump of the standard.'),
        worst: ref(ClampDuty, 'In the worst load dump of the standard.'),
      },
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
      Type.Object(
        { area: ref(WireAreaIn, 'Cross section of the copper.') },
        { ...closed, title: 'by the area of the copper' },
      ),
    ],
    { description: 'Size of a wire: give exactly one of awg, area.' },
  ),
)

export const WireRequest = named(
  'WireRequest',
  Type.Object(
    {
      supply: ref(VoltageIn, 'Voltage at the source.'),
      current: ref(CurrentIn, 'Steady current of the load.'),
      length: ref(LeadLengthIn, 'Length of the wire one way.'),
      size: ref(WireSize, 'Size of the wire, by gauge or by cross section.'),
      returnPath: Type.Optional(
        choice(['wire', 'body'], {
          description:
            'The way back: a second wire of the same size and length, or the body. Left out: wire.',
        }),
      ),
      bodyResistance: Type.Optional(
        ref(
          SmallResistanceIn,
          'Resistance of the return through the body; only with returnPath body. Left out: 0.01 ohm, from 0 to 0.02.',
        ),
      ),
      contactResistance: Type.Optional(
        ref(
          SmallResistanceIn,
          'Resistance of all contacts in the circuit; left out: 0.01 ohm, from 0 to 0.03.',
        ),
      ),
      sourceResistance: Type.Optional(
        ref(
          SmallResistanceIn,
          'Internal resistance of the source, for the short-circuit current; left out: 0.02 ohm, from 0.005 to 0.05.',
        ),
      ),
      ambient: Type.Optional(
        ref(AmbientIn, 'Ambient temperature along the wire; left out: 40 °C, from 20 to 60.'),
      ),
      insulation: Type.Optional(
        Type.Object(
          {
            thickness: Type.Optional(
              ref(SmallLengthIn, 'Wall thickness of the insulation; left out: 0.5 mm, from 0.25 to 0.8.'),
            ),
            limit: Type.Optional(
              ref(AmbientIn, 'Highest temperature of the insulation; left out: 85 °C, class A.'),
            ),
          },
          { ...closed, description: 'Insulation: wall thickness, and its highest temperature.' },
        ),
      ),
      heatTransfer: Type.Optional(
        ref(
          HeatTransferIn,
          'Heat transfer coefficient at the surface; left out: still air, 10 W/(m2 K), from 5 to 15.',
        ),
      ),
      allowedDropPercent: Type.Optional(
        plain({
          minimum: 0.1,
          maximum: 50,
          description: 'Drop that is allowed, of the supply [%]; left out: 3.',
        }),
      ),
      fuse: Type.Optional(ref(FuseRatingIn, 'Rating of the fuse to judge; left out: none is judged.')),
    },
    {
      ...closed,
      dependentSchemas: {
        bodyResistance: { required: ['returnPath'], properties: { returnPath: { enum: ['body'] } } },
      },
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
      area: ref(Area, 'Cross section of the copper.'),
      suits: Type.Boolean({
        description:
          'Drop within what is allowed, insulation proven to hold, and a fuse that carries the load and protects it.',
      }),
      awg: Type.Optional(Type.Integer({ description: 'American gauge.', 'x-dimensionless': true })),
      dropPercent: Type.Optional(plainOut('Drop of the supply [%]; absent when the wire never settles.')),
      conductorTemperature: Type.Optional(
        ref(Temperature, 'Temperature of the conductor at this size; absent when it never settles.'),
      ),
    },
    { ...closed, description: 'A usual size at the same current, length and surroundings.' },
  ),
)

export const WireAnswer = calculationAnswer('WireAnswer', 'Drop, heating and fuse of a wire.', {
  diameter: ref(Length, 'Diameter of the conductor.'),
  area: ref(Area, 'Cross section of the copper.'),
  resistancePerLengthAt20: ref(ResistancePerLength, 'Resistance per length of one conductor at 20 °C.'),
  resistancePerLength: ref(
    ResistancePerLength,
    'Resistance per length of one conductor at its own temperature.',
  ),
  loopResistance: ref(Resistance, 'Resistance of the whole circuit: both ways and the contacts.'),
  drop: ref(Voltage, 'Voltage lost between source and load.'),
  dropPercent: ref(Ratio, 'Voltage lost, in percent of the supply.'),
  dropWithinAllowed: Conformity,
  loadVoltage: ref(Voltage, 'Voltage left at the load.'),
  heat: ref(Power, 'Heat in the wire, both ways.'),
  heatPerLength: ref(PowerPerLength, 'Heat per length of one conductor.'),
  conductorTemperature: ref(Temperature, 'Temperature that the conductor settles at.'),
  conductorTemperatureRange: ref(TemperatureRange, 'Range that holds the conductor temperature with 95 %.'),
  insulation: Type.Object(
    { limit: ref(Temperature, 'Highest temperature of the insulation.'), probability, result: Conformity },
    { ...closed, description: 'Whether the insulation withstands the temperature of the conductor.' },
  ),
  largestCurrent: ref(Current, 'Largest current at which the insulation stays within its limit.'),
  shortCircuitCurrent: ref(Current, 'Current when the far end is shorted.'),
  sizes: Type.Array(ref(WireSizeOut), {
    maxItems: 20,
    description: 'Usual sizes, thinnest first, of the way of counting that was used.',
  }),
  budget,
  assumptions,
  minFuse: Type.Optional(
    ref(
      Current,
      'Smallest standard fuse that carries the load at 75 % of its rating; absent when none is large enough.',
    ),
  ),
  maxFuse: Type.Optional(
    ref(Current, 'Largest standard fuse that protects the wire; absent when none is small enough.'),
  ),
  fuse: Type.Optional(
    Type.Object(
      {
        rating: ref(Current, 'Rating of the fuse, as given.'),
        carriesLoad: Type.Boolean({ description: 'Whether the load is at most 75 % of the rating.' }),
        protectsWire: Conformity,
        probability,
        opensOnShort: Type.Boolean({
          description:
            'Whether a short circuit at the far end draws twice the rating, which opens it within 5 s.',
        }),
      },
      { ...closed, description: 'The fuse of the request, checked.' },
    ),
  ),
})

// --- threshold -------------------------------------------------------------------------------------------------

export const ThresholdRequest = named(
  'ThresholdRequest',
  Type.Object(
    {
      supply: ref(VoltageIn, 'Supply voltage of the comparator.'),
      resistors: Type.Optional(
        Type.Object(
          {
            toSupply: ref(ResistanceIn, 'Resistor from the supply to the reference input.'),
            toGround: ref(ResistanceIn, 'Resistor from the reference input to ground.'),
            fromOutput: ref(
              ResistanceIn,
              'Resistor from the output to the reference input: it makes the hysteresis.',
            ),
          },
          { ...closed, description: 'The three resistors that are fitted; left out, they are chosen.' },
        ),
      ),
      hysteresis: Type.Optional(
        ref(
          VoltageIn,
          'Hysteresis wanted, upper less lower threshold; not beside resistors. Left out: chosen from noise and signal.',
        ),
      ),
      outputHigh: Type.Optional(ref(LevelVoltageIn, 'Output voltage when high; left out: the supply.')),
      outputLow: Type.Optional(ref(LevelVoltageIn, 'Output voltage when low; left out: 0 V.')),
      bias: Type.Optional(
        ref(
          LevelVoltageIn,
          'Voltage that the sensor signal swings about; left out: the midpoint of the thresholds.',
        ),
      ),
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
            amplitude: ref(VoltageIn, 'Peak of the open-circuit voltage at the speed at.'),
            at: ref(SpeedIn, 'Speed at which amplitude was measured.'),
            pulses: ref(PerDistanceIn, 'Pulses of the sensor per distance.'),
            amplitudeAtTopSpeed: Type.Optional(
              ref(
                VoltageIn,
                'Peak of the open-circuit voltage at topSpeed; needs topSpeed. Left out: proportional to speed.',
              ),
            ),
          },
          {
            ...closed,
            description:
              'A magnetic sensor: peak of its open voltage at a low speed, its pulses per distance, and its peak at topSpeed where that was measured (else taken as proportional to speed).',
          },
        ),
      ),
      topSpeed: Type.Optional(
        ref(
          SpeedIn,
          'Highest speed; needs sensor. Left out: the answer does not cover it, and no filter is chosen.',
        ),
      ),
      lowestSpeed: Type.Optional(
        ref(
          SpeedIn,
          'Lowest speed that should still be read; needs sensor. Left out: the lowest one is only reported.',
        ),
      ),
      noise: Type.Optional(
        Type.Object(
          {
            peakToPeak: ref(VoltageIn, 'Noise at the input, peak to peak.'),
            frequency: Type.Optional(
              ref(
                NoiseFrequencyIn,
                'Frequency at which most of the noise lies; left out: the filter is not counted on against it.',
              ),
            ),
          },
          {
            ...closed,
            description: 'Noise at the input; without its frequency the filter is not counted on.',
          },
        ),
      ),
      filter: Type.Optional(
        Type.Object(
          {
            resistance: ref(ResistanceIn, 'Series resistor of the low-pass filter.'),
            capacitance: ref(CapacitanceIn, 'Capacitor of the low-pass filter.'),
          },
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
      dependentRequired: { topSpeed: ['sensor'], lowestSpeed: ['sensor'], cornerRatio: ['topSpeed'] },
      dependentSchemas: {
        resistors: { properties: { hysteresis: false, tolerancePercent: false } },
        filter: { properties: { cornerRatio: false } },
        sensor: {
          anyOf: [
            { required: ['topSpeed'] },
            { properties: { sensor: { properties: { amplitudeAtTopSpeed: false } } } },
          ],
        },
      },
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
        toSupply: ref(Resistance, 'Resistor from the supply to the reference input.'),
        toGround: ref(Resistance, 'Resistor from the reference input to ground.'),
        fromOutput: ref(Resistance, 'Resistor from the output to the reference input.'),
        chosen: Type.Boolean({ description: 'Chosen here, not given.' }),
      },
      { ...closed, description: 'The resistors.' },
    ),
    upper: ref(Voltage, 'Upper threshold: the output switches as the input rises through it.'),
    lower: ref(Voltage, 'Lower threshold: the output switches back as the input falls through it.'),
    hysteresis: ref(Voltage, 'Upper less lower threshold.'),
    midpoint: ref(Voltage, 'Mean of the two thresholds.'),
    bias: ref(Voltage, 'Voltage that the sensor signal swings about.'),
    budget,
    assumptions,
    filter: Type.Optional(
      Type.Object(
        {
          resistance: ref(Resistance, 'Series resistor of the filter.'),
          capacitance: ref(Capacitance, 'Capacitor of the filter.'),
          cornerFrequency: ref(Frequency, 'Frequency at which the filter passes 71 %.'),
          chosen: Type.Boolean({ description: 'Chosen here, not given.' }),
          delay: ref(Time, 'Delay of the signal at low frequencies.'),
          gainAtTopSpeed: Type.Optional(
            ref(Ratio, 'Share of the amplitude that passes at top speed; absent without topSpeed.'),
          ),
          noiseGain: Type.Optional(
            ref(Ratio, 'Share of the noise that passes; absent without its frequency.'),
          ),
        },
        { ...closed, description: 'The low-pass ahead of the comparator.' },
      ),
    ),
    sensor: Type.Optional(
      Type.Object(
        {
          requiredAmplitude: ref(Voltage, 'Peak that the comparator needs at its input to switch.'),
          lowestSpeed: Type.Optional(
            ref(Speed, 'Lowest speed that gives that peak; absent when no speed does.'),
          ),
          highestFrequency: Type.Optional(
            ref(Frequency, 'Pulse frequency at top speed; absent without topSpeed.'),
          ),
          openCircuitAtTopSpeed: Type.Optional(
            ref(Voltage, 'Peak of the open-circuit voltage at top speed; absent without topSpeed.'),
          ),
          inputAtTopSpeed: Type.Optional(
            ref(Voltage, 'Peak at the comparator at top speed, behind the filter; absent without topSpeed.'),
          ),
        },
        {
          ...closed,
          description:
            'Peak that the comparator needs, lowest speed that gives it, and what comes at top speed.',
        },
      ),
    ),
    hysteresisOverNoise: Type.Optional(
      ref(
        Ratio,
        'Hysteresis over the peak-to-peak noise behind the filter: 2 or more is safe. Absent without noise.',
      ),
    ),
  },
)

// --- air gap ---------------------------------------------------------------------------------------------------

const ringParts = {
  teeth: count({ minimum: 1, maximum: 1000, description: 'Teeth, or pairs of magnets, of the ring.' }),
  toothWidth: Type.Optional(ref(SmallLengthIn, 'Width of a tooth at its tip; left out: not checked.')),
  toothDepth: Type.Optional(ref(SmallLengthIn, 'Depth of the gap between teeth; left out: not checked.')),
}

export const RingShape = named(
  'RingShape',
  Type.Union(
    [
      Type.Object(
        { ...ringParts, outsideDiameter: ref(RingLengthIn, 'Outside diameter of the ring.') },
        { ...closed, title: 'by its outside diameter' },
      ),
      Type.Object(
        { ...ringParts, module: ref(RingLengthIn, 'Module of the ring: pitch over pi.') },
        { ...closed, title: 'by its module' },
      ),
    ],
    { description: 'A pulse ring: give exactly one of outsideDiameter, module.' },
  ),
)

export const AirGapRequest = named(
  'AirGapRequest',
  Type.Object(
    {
      sensor: choice(['active', 'variable-reluctance'], {
        description: 'active: a sensor with electronics of its own; variable-reluctance: a coil and magnet.',
      }),
      gap: ref(
        SmallLengthIn,
        'Air gap, measured or planned at any one place of the ring, with the shaft at one end of its play.',
      ),
      ring: ref(RingShape, 'The pulse ring.'),
      runOut: Type.Optional(
        ref(SmallLengthIn, 'Run-out of the ring: total reading of a dial gauge over one turn; left out: 0.'),
      ),
      play: Type.Optional(ref(SmallLengthIn, 'Total play of the shaft toward the sensor; left out: 0.')),
      limits: Type.Optional(
        Type.Object(
          {
            min: Type.Optional(ref(GapLimitIn, 'Smallest gap by the data sheet; left out: 0.2 mm.')),
            max: Type.Optional(ref(GapLimitIn, 'Largest gap by the data sheet; left out: 1.5 mm.')),
          },
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
  module: ref(Length, 'Module of the ring: pitch over pi.'),
  pitch: ref(Length, 'Distance from tooth to tooth along the circumference.'),
  diameter: ref(Length, 'Outside diameter of the ring.'),
  smallestGap: ref(Length, 'Smallest gap: the mean less half of run-out and play.'),
  largestGap: ref(Length, 'Largest gap: the mean plus half of run-out and play.'),
  amplitudeModulationPercent: ref(Ratio, 'Largest over smallest amplitude in a turn, less one [%].'),
  oncePerTurnErrorPercent: ref(Ratio, 'Amplitude of the once-per-turn error of speed, from run-out [%].'),
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
  toothSharePercent: Type.Optional(ref(Ratio, 'Tooth width over pitch [%]; absent without toothWidth.')),
})

// --- enclosure -------------------------------------------------------------------------------------------------

export const EnclosureRequest = named(
  'EnclosureRequest',
  Type.Object(
    {
      place: Type.Optional(
        choice(['dashboard-in-sun', 'engine-compartment'], {
          description: 'Where the box sits; give this or ambient.',
        }),
      ),
      ambient: Type.Optional(
        ref(AmbientIn, 'Temperature around the box; give this or place. Left out: that of place.'),
      ),
      power: Type.Optional(
        ref(PowerIn, 'Heat given off by the electronics inside; needs surface. Left out: 0 W.'),
      ),
      surface: Type.Optional(ref(SurfaceIn, 'Outside surface of the box.')),
      heatTransfer: Type.Optional(
        ref(
          HeatTransferIn,
          'Heat transfer coefficient at the surface; left out: still air, 10 W/(m2 K), from 5 to 15.',
        ),
      ),
      margin: Type.Optional(
        ref(TemperatureMarginIn, 'Distance to keep below the glass transition; left out: 10 K.'),
      ),
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
                  glassTransition: ref(AmbientIn, 'Glass transition of the material.'),
                },
                { ...closed, title: 'a material of your own' },
              ),
            ],
            { description: 'Give kind, or name with glassTransition.' },
          ),
          { minItems: 1, maxItems: 20, description: 'Left out: every built-in material.' },
        ),
      ),
      partsRatedTo: Type.Optional(
        ref(AmbientIn, 'Temperature that the parts inside are rated to; left out: not checked.'),
      ),
    },
    {
      ...closed,
      dependentRequired: { surface: ['power'], heatTransfer: ['power'], power: ['surface'] },
      oneOf: [{ required: ['ambient'] }, { required: ['place'] }],
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
    ambient: ref(Temperature, 'Temperature around the box.'),
    rise: ref(TemperatureDifference, 'How much warmer the box gets than its surroundings.'),
    riseRange: ref(TemperatureDifferenceRange, 'Range that holds the rise with 95 %.'),
    boxTemperature: ref(Temperature, 'Temperature that the box settles at.'),
    boxTemperatureRange: ref(TemperatureRange, 'Range that holds the temperature of the box with 95 %.'),
    materials: Type.Array(
      Type.Object(
        {
          name: Type.String({ description: 'The material.' }),
          glassTransition: ref(Temperature, 'Glass transition of the material.'),
          usableTo: ref(
            Temperature,
            'Highest temperature to use it at: glass transition less margin of the request.',
          ),
          margin: ref(
            TemperatureDifference,
            'Distance from the box temperature to usableTo; negative: too hot.',
          ),
          marginRange: ref(TemperatureDifferenceRange, 'Range that holds the margin with 95 %.'),
          probability,
          result: Conformity,
        },
        closed,
      ),
      { maxItems: 20, description: 'Whether each material withstands the temperature of the box.' },
    ),
    budget,
    assumptions,
    parts: Type.Optional(
      Type.Object(
        {
          ratedTo: ref(Temperature, 'Temperature that the parts are rated to, as given.'),
          probability,
          result: Conformity,
        },
        { ...closed, description: 'Whether the parts inside withstand it.' },
      ),
    ),
  },
)

export type BusLoadShape = Static<typeof BusLoad>
export type WireSizeShape = Static<typeof WireSize>
