// npm run restore -- FILE: replaces the database by a backup. The service must be stopped.
import { readConfig } from '../src/config.js'
import { restoreDatabase } from '../src/db/sqlite/backup.js'
import { fileOf, runOnFile } from './run-on-file.js'

runOnFile('npm run restore -- FILE', (file) => {
  const setAside = `before-restore-${new Date().toISOString().replaceAll(/[:.]/g, '-')}`
  const databaseFile = fileOf(readConfig(process.env))
  const report = restoreDatabase(file, databaseFile, setAside)
  const said = [
    `${file} restored to ${databaseFile}`,
    report.setAside === undefined ? 'nothing was there before' : `what was there is in ${report.setAside}`,
  ]
  if (!report.sameAsMade) {
    said.push(
      `no ${file}.sha256 is there to prove that no letter of it was changed, only that it holds together`,
    )
  }
  return [said.join('; '), report]
})
