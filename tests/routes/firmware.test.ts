import { spawnSync } from 'node:child_process'
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, test } from 'vitest'
import type { FirmwareShape } from '../../src/schemas/firmware.js'
import { post, testApp } from '../support/app.js'

const app = await testApp()
afterAll(() => app.close())

const URL = '/v1/pulses/firmware-constants'
const REQUEST = {
  pulses: { perMile: 8000, plusMinus: 40 },
  timerTick: { us: 4 },
  counterBits: 32,
  integerBits: 32,
  zeroTimeout: { ms: 500 },
  topSpeed: { mph: 120 },
  odometerStep: { mi: 0.1 },
  filterFactor: 0.2,
}

async function header(request: unknown): Promise<string> {
  const response = await app.inject({
    method: 'POST',
    url: URL,
    headers: { 'content-type': 'application/json', accept: 'text/x-c' },
    payload: JSON.stringify(request),
  })
  expect(response.statusCode, response.body).toBe(200)
  expect(response.headers['content-type']).toMatch(/^text\/x-c/)
  return response.body
}

describe('representations', () => {
  test.each([
    [undefined, 'application/json'],
    ['*/*', 'application/json'],
    ['application/json', 'application/json'],
    ['text/x-c', 'text/x-c'],
    ['text/*;q=0.9, application/json;q=0.1', 'text/x-c'],
    ['text/x-c;q=0, */*', 'application/json'],
  ])('Accept %s gets %s', async (accept, expected) => {
    const response = await app.inject({
      method: 'POST',
      url: URL,
      headers: { 'content-type': 'application/json', ...(accept === undefined ? {} : { accept }) },
      payload: JSON.stringify(REQUEST),
    })
    expect(response.statusCode).toBe(200)
    expect(response.headers['content-type']).toContain(expected)
    expect(response.headers.vary).toContain('accept')
  })
  test('Accept image/png is 406 and lists the representations', async () => {
    const response = await app.inject({
      method: 'POST',
      url: URL,
      headers: { 'content-type': 'application/json', accept: 'image/png' },
      payload: JSON.stringify(REQUEST),
    })
    expect(response.statusCode).toBe(406)
    expect(response.json().detail).toContain('text/x-c')
  })
})

test('tire and ring: 8 pulses a turn of 1885 mm are 4244.03 /km (EU 165/2014, w = pulses 1e6 / C)', async () => {
  const { pulses: _, ...timer } = REQUEST
  const { status, body } = await post(app, URL, {
    ...timer,
    tire: { rollingCircumference: { mm: 1885 } },
    stages: [{ kind: 'pulse-ring', pulsesPerTurn: 8 }],
  })
  expect(status).toBe(200)
  expect(body.pulses.perKm).toBeCloseTo(8e6 / 1885, 9)
})

test('a path without a pulse ring is refused at its stages', async () => {
  const { pulses: _, ...timer } = REQUEST
  const { status, body } = await post(app, URL, {
    ...timer,
    tire: { rollingCircumference: { mm: 1885 } },
    stages: [{ kind: 'final-drive', ratio: 3.7 }],
  })
  expect(status).toBe(422)
  expect(body.errors[0].pointer).toBe('#/stages')
})

// Until 2026-11 it was accepted and had no effect.
test('an uncertainty of odometerStep, which is set, is refused', async () => {
  const { status, body } = await post(app, URL, { ...REQUEST, odometerStep: { mi: 0.1, plusMinus: 0.01 } })
  expect(status).toBe(400)
  expect(body.errors).toMatchObject([{ pointer: '#/odometerStep/plusMinus', code: 'unknown-field' }])
})

const compiler = ['cc', 'gcc', 'clang'].find((name) => spawnSync(name, ['--version']).status === 0)
if (compiler === undefined) console.warn('no C compiler here: the header is not compiled')

/**
 * Runs a drive through the constants as firmware would: periods of a steady speed in whole ticks, smoothed by the shift, turned into
 * speed by one division; pulses counted into steps of the record with their residue.
 */
const PROGRAM = `
#include <inttypes.h>
#include <stdint.h>
#include <stdio.h>
#include "constants.h"

static uint32_t smoothed(uint32_t period) {
  uint32_t state = period << WTD_FILTER_SHIFT;
  for (int i = 0; i < 1000; i++) state += period - (state >> WTD_FILTER_SHIFT);
  return state >> WTD_FILTER_SHIFT;
}

static uint64_t steps(uint64_t pulses) {
  uint64_t steps = 0;
  uint32_t left = WTD_STEP_PULSES, carry = 0;
  for (uint64_t i = 0; i < pulses; i++) {
    if (--left > 0) continue;
    steps++;
    carry += WTD_STEP_RESIDUE;
    left = WTD_STEP_PULSES + (carry >> 16);
    carry &= 65535;
  }
  return steps;
}

int main(void) {
  printf("{\\"kmhWhole\\":%" PRIu64 ",\\"mphWhole\\":%" PRIu64 ",", (uint64_t)WTD_KMH_PARTS_TICKS, (uint64_t)WTD_MPH_PARTS_TICKS);
  printf("\\"kmh\\":%.17g,\\"mph\\":%.17g,", WTD_KMH_TICKS, WTD_MPH_TICKS);
  printf("\\"ticks\\":%.17g,\\"timeout\\":%" PRIu64 ",\\"parts\\":%" PRIu64 ",", WTD_TICKS_PER_SECOND, (uint64_t)WTD_TIMEOUT_TICKS, (uint64_t)WTD_SPEED_PARTS);
  printf("\\"perMile\\":%.17g,\\"perKm\\":%.17g,\\"mm\\":%.17g,", WTD_PULSES_PER_MILE, WTD_PULSES_PER_KM, WTD_MM_PER_PULSE);
  printf("\\"step\\":%" PRIu64 ",\\"residue\\":%" PRIu64 ",\\"shift\\":%d,", (uint64_t)WTD_STEP_PULSES, (uint64_t)WTD_STEP_RESIDUE, WTD_FILTER_SHIFT);
  printf("\\"overflow\\":%d,", (uint64_t)(WTD_MPH_PARTS_TICKS * WTD_MPH_MAX_PERIODS) == (uint64_t)WTD_MPH_PARTS_TICKS * (uint64_t)WTD_MPH_MAX_PERIODS);
  printf("\\"steps\\":%" PRIu64 ",\\"speeds\\":[", steps(8000ULL * 1000ULL));
  static const double mph[] = { 10, 30, 60, 120 };
  for (int i = 0; i < 4; i++) {
    double seconds = WTD_MM_PER_PULSE / 1000.0 / (mph[i] * 0.44704);
    uint32_t period = (uint32_t)(seconds * WTD_TICKS_PER_SECOND + 0.5);
    printf("%s%" PRIu32, i ? "," : "", (uint32_t)(WTD_MPH_PARTS_TICKS / smoothed(period)));
  }
  printf("]}\\n");
  return 0;
}
`

describe.skipIf(compiler === undefined)('the header, compiled and run', () => {
  async function run(request: unknown) {
    const folder = mkdtempSync(join(tmpdir(), 'firmware-'))
    try {
      writeFileSync(join(folder, 'constants.h'), await header(request))
      writeFileSync(join(folder, 'program.c'), PROGRAM)
      const built = spawnSync(
        compiler!,
        ['-std=c99', '-Wall', '-Wextra', '-Werror', '-pedantic', '-o', 'program', 'program.c'],
        { cwd: folder, encoding: 'utf8' },
      )
      expect(built.stderr).toBe('')
      return JSON.parse(spawnSync(join(folder, 'program'), { encoding: 'utf8' }).stdout)
    } finally {
      rmSync(folder, { recursive: true })
    }
  }

  test('has exactly the values of the JSON answer', async () => {
    const made = (await post(app, URL, REQUEST)).body as FirmwareShape
    expect(await run(REQUEST)).toMatchObject({
      kmhWhole: made.kmh.whole,
      mphWhole: made.mph.whole,
      kmh: made.kmh.floating,
      mph: made.mph.floating,
      ticks: made.ticksPerSecond,
      timeout: made.timeoutTicks,
      parts: made.speedParts,
      perMile: made.pulses.perMile,
      perKm: made.pulses.perKm,
      mm: made.distancePerPulse.mm,
      step: made.odometer.wholePulses,
      residue: made.odometer.residue65536,
      shift: made.filter!.shift,
      overflow: 1,
    })
  })

  test('shows 10, 30, 60 and 120 mph to the resolution of its timer', async () => {
    const made = (await post(app, URL, REQUEST)).body as FirmwareShape
    const { speeds, parts } = await run(REQUEST)
    for (const [i, mph] of [10, 30, 60, 120].entries()) {
      // Half a tick of the period, and one part by cutting off: exact arithmetic on 3600/(8000 mph) s in ticks of 4 us.
      const ticks = 3600 / (8000 * mph) / 4e-6
      const step = mph / (2 * ticks) + 1 / parts
      expect(Math.abs(speeds[i] / parts - mph)).toBeLessThan(step)
    }
    expect(made.topSpeedTicks).toBeCloseTo(3600 / (8000 * 120) / 4e-6, 6)
  })

  test('counts 10 000 tenths of a mile in a thousand miles of pulses', async () => {
    expect((await run(REQUEST)).steps).toBe(10_000)
  })

  test('the residue keeps the odometer within a step over a thousand miles: tenths of a kilometer are 16 093.44', async () => {
    expect(Math.abs((await run({ ...REQUEST, odometerStep: { km: 0.1 } })).steps - 16_093.44)).toBeLessThan(
      1.01,
    )
  })
})
