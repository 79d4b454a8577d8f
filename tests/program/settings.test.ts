import { describe, expect, test } from 'vitest'
import { SETTINGS } from '../../src/config.js'
import { lettersApart, misspeltSettings, settingsOf } from '../../src/program/settings.js'

describe('lettersApart(a, b)', () => {
  // Counted by hand: one insertion, deletion, replacement or exchange each.
  test.each([
    ['', '', 0],
    ['', 'ab', 2],
    ['dial', 'dial', 0],
    ['dial', 'dials', 1],
    ['dial', 'ial', 1],
    ['dial', 'deal', 1],
    ['dial', 'dail', 1],
    ['dial', 'laid', 3],
    // Optimal string alignment: ca, ac, abc would edit the exchanged letters again.
    ['ca', 'abc', 3],
  ])('%j to %j is %i', (a, b, apart) => {
    expect([lettersApart(a, b), lettersApart(b, a)]).toEqual([apart, apart])
  })
})

// Found 2026-11: DATABSE_FILE=club.sqlite npm start said nothing, and made data/wheel-to-dial.sqlite.
describe('a variable that resembles a setting', () => {
  test.each([
    ['DATABSE_FILE', 'DATABASE_FILE'],
    ['DATABASEFILE', 'DATABASE_FILE'],
    ['database_file', 'DATABASE_FILE'],
    ['DATABASE-FILE', 'DATABASE_FILE'],
    ['LOGLEVEL', 'LOG_LEVEL'],
    ['TRUSTED_PROXY', 'TRUST_PROXY'],
    ['CORS_ORIGIN', 'CORS_ORIGINS'],
    ['RATE_PER_ADRESS', 'RATE_PER_ADDRESS'],
    ['BATCHES_PER_CALLLER', 'BATCHES_PER_CALLER'],
    ['WORKER', 'WORKERS'],
    ['port', 'PORT'],
    ['Host', 'HOST'],
  ])('%s is named, with %s', (name, setting) => {
    const warned: string[] = []
    settingsOf({ environment: { [name]: '1' }, warn: (line) => warned.push(line) })
    expect(warned).toEqual([`environment: ${name} is not a setting; was ${setting} meant?`])
  })

  test('is not one that other programs use', () => {
    const others =
      'PATH HOME HOSTNAME LANG PORTS POST HOSTS TERM SHELL SHLVL PWD WATCHDOG_PID WATCHDOG_USEC LOGNAME NO_PROXY HTTP_PROXY WORKDIR'
    expect(misspeltSettings(Object.fromEntries(others.split(' ').map((name) => [name, 'x'])))).toEqual([])
  })

  test('is not one beside the setting itself, and no setting is one', () => {
    expect(misspeltSettings({ port: '1', PORT: '2' })).toEqual([])
    expect(misspeltSettings(Object.fromEntries(SETTINGS.map(({ name }) => [name, '1'])))).toEqual([])
  })
})
