import { execFileSync, spawnSync } from 'node:child_process'
import { cpSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { SETTINGS } from '../../src/config.js'
import { tempFolder } from '../support/temp.js'

const file = join(import.meta.dirname, '../../deploy/wheel-to-dial.service')
const unit = readFileSync(file, 'utf8')

const hasAnalyzer = spawnSync('systemd-analyze', ['--version']).status === 0
if (!hasAnalyzer) console.log('skipped: the unit is not verified, for systemd-analyze is not installed')

test('the unit sets only variables that are settings', () => {
  const names = [...unit.matchAll(/^Environment=(\w+)=/gm)].map(([, name]) => name!)
  const known = ['NODE_ENV', ...SETTINGS.map(({ name }) => name)]
  expect(names.length).toBeGreaterThan(1)
  expect(names.filter((name) => !known.includes(name))).toEqual([])
})

test.skipIf(!hasAnalyzer)('systemd finds no fault in the unit', () => {
  // The Node of this machine, which need not be the one of the unit.
  const copy = join(tempFolder(), 'wheel-to-dial.service')
  writeFileSync(copy, unit.replace('/usr/bin/node', process.execPath))
  const { status, stderr } = spawnSync('systemd-analyze', ['verify', copy], { encoding: 'utf8' })
  expect([status, stderr]).toEqual([0, ''])
})

// systemd rates the exposure from 0 (none) to 10; a service without any restriction has 9.6.
test.skipIf(!hasAnalyzer)('systemd rates the exposure of the unit below 2', () => {
  const copy = join(tempFolder(), 'wheel-to-dial.service')
  cpSync(file, copy)
  const said = execFileSync('systemd-analyze', ['security', '--offline=yes', '--no-pager', copy], {
    encoding: 'utf8',
  })
  const [, exposure] = /Overall exposure level for \S+: ([\d.]+)/.exec(said)!
  expect(Number(exposure)).toBeLessThan(2)
})
