import { type Config, readConfig, SETTINGS } from '../config.js'
import type { Surroundings } from './command.js'

/** A name as people may vary it: PORT, port; LOG_LEVEL, LOGLEVEL. */
const bare = (name: string) => name.toUpperCase().replaceAll(/[_-]/g, '')

/**
 * Number of letters to insert, delete, replace or exchange with their neighbor between two words, no letter twice (optimal string
 * alignment).
 */
export function lettersApart(a: string, b: string): number {
  let [beforeLast, last] = [[] as number[], Array.from({ length: b.length + 1 }, (_, column) => column)]
  for (let row = 1; row <= a.length; row++) {
    const current = [row]
    for (let column = 1; column <= b.length; column++) {
      const isSame = a[row - 1] === b[column - 1]
      const isExchanged = a[row - 1] === b[column - 2] && a[row - 2] === b[column - 1]
      current[column] = Math.min(
        last[column]! + 1,
        current[column - 1]! + 1,
        last[column - 1]! + (isSame ? 0 : 1),
        isExchanged ? beforeLast[column - 2]! + 1 : Number.POSITIVE_INFINITY,
      )
    }
    ;[beforeLast, last] = [last, current]
  }
  return last[b.length]!
}

/** How many letters of a name may be wrong: none of a short one, which too many variables of other programs resemble. */
const wrongLettersIn = (name: string) => (name.length < 7 ? 0 : name.length < 10 ? 1 : 2)

/** What each variable that resembles a setting, and is none, was probably meant to be. */
export function misspeltSettings(environment: NodeJS.ProcessEnv): string[] {
  const known = SETTINGS.map(({ name }) => name)
  return Object.keys(environment).flatMap((name) => {
    if (known.includes(name)) return []
    const meant = known
      .map((setting) => ({ setting, apart: lettersApart(bare(name), bare(setting)) }))
      .filter(({ setting, apart }) => apart <= wrongLettersIn(bare(setting)))
      // Where the setting itself is there, too, the other variable belongs to another program; on Windows it is the same one.
      .filter(({ setting }) => environment[setting] === undefined)
      .sort((one, other) => one.apart - other.apart)[0]
    return meant === undefined ? [] : [`environment: ${name} is not a setting; was ${meant.setting} meant?`]
  })
}

/**
 * The settings of the environment. A variable that resembles a setting is named in a warning and does not stop the command: it may be of another program.
 *
 * @throws {Error} naming each invalid variable and its allowed values
 */
export function settingsOf({ environment, warn }: Pick<Surroundings, 'environment' | 'warn'>): Config {
  for (const line of misspeltSettings(environment)) warn(line)
  return readConfig(environment)
}
