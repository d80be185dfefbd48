#!/usr/bin/env node
import { Command, Option } from 'commander';
import { COMPRESSOR_KINDS, LAYOUTS, REFRIGERANT_NAMES } from '#libs/vocabulary/index.js';
import { backupCommand, restoreCommand } from './backup.js';
import { completionCommand } from './completion.js';
import { diagnoseCommand } from './diagnose.js';
import { doctorCommand } from './doctor.js';
import { eraseCommand, exportCommand, foundFromCommand } from './export.js';
import { importCommand } from './import.js';
import { keyCommand } from './key.js';
import { migrateCommand } from './migrate.js';
import { organisationCommand } from './organisation.js';
import { rebuildCommand } from './rebuild.js';
import { rediagnoseCommand } from './rediagnose.js';
import { startCommand } from './start.js';
import { drawCommand } from './system.js';

const program = new Command('coolback')
  .description('Shared diagnostic memory for vehicle air-conditioning shops')
  .version('0.1.0')
  .showHelpAfterError('(coolback --help lists the commands)');

program
  .command('start')
  .description('database, migrations, demo region, API, worker and console')
  .option('--no-demo', 'leave the demo region out')
  .addOption(new Option('--port <number>', 'port to listen on').env('COOLBACK_PORT').default('4280'))
  .addOption(new Option('--host <address>', 'address to listen on').env('COOLBACK_HOST').default('127.0.0.1'))
  .action(startCommand);

program.command('migrate').description('bring the database to this version').action(migrateCommand);

program
  .command('organisation <name>')
  .description('found an organisation and print its first administrator key')
  .option('--json', 'answer as JSON')
  .action(organisationCommand);

program
  .command('key')
  .description('issue a key for an organisation (asks the database directly; for the first key or a lost one)')
  .requiredOption('--organisation <id>', 'identifier of the organisation')
  .option('--role <role>', 'director, technician, integrator or administrator', 'administrator')
  .option('--name <name>', 'what the key is for', 'issued on the command line')
  .option('--json', 'answer as JSON')
  .action(keyCommand);

const toServer = (command: Command) =>
  command
    .option('--url <address>', 'the server (COOLBACK_URL; this machine when left out)')
    .option('--key <key>', 'the key (COOLBACK_KEY; that of the first start when left out)')
    .option('--json', 'answer as JSON');

toServer(program.command('import <file>'))
  .description('send a file of cases: .ndjson, .csv or .tsv, also with .gz; exit code 2 when rows were refused')
  .option('--map <name>', 'a saved mapping of the columns')
  .option('--dry-run', 'judge every row, store nothing')
  .option('--backfill', 'history: no events are raised')
  .option('--shop <code>', 'shop of rows that name none')
  .option('--system <name>', 'sending system of rows that name none')
  .option('--errors <file>', 'write the refused rows there, with what is wrong')
  .action(importCommand);

toServer(program.command('export <file>'))
  .description('write everything the organisation has into a file')
  .option('--passphrase-env <variable>', 'take the key of the hashes along, under the passphrase in this variable')
  .action(exportCommand);

toServer(program.command('rebuild'))
  .description('derive episodes and boards again from the cases; with --check only compare, exit code 2 when something differs')
  .option('--check', 'compare and say what differs, write nothing')
  .action(rebuildCommand);

program
  .command('found-from <file>')
  .description('found an organisation from an export (asks the database directly)')
  .option('--passphrase-env <variable>', 'the variable with the passphrase of the export')
  .option('--json', 'answer as JSON')
  .action(foundFromCommand);

program
  .command('erase <organisation>')
  .description('erase an organisation with everything it has (asks the database directly, as its owner)')
  .option('--yes', 'it cannot be undone')
  .option('--json', 'answer as JSON')
  .action(eraseCommand);

program
  .command('diagnose <file>')
  .description('judge readings offline, one question a line of NDJSON; - reads standard input')
  .option('--json', 'whole answers, one JSON value a line')
  .action(diagnoseCommand);

toServer(program.command('rediagnose'))
  .description('judge history again by the present engine and say what changed')
  .option('--platform <id>', 'one platform only')
  .option('--since <day>', 'cases opened from this day on, YYYY-MM-DD')
  .option('--until <day>', 'cases opened before this day')
  .option('--again', 'also cases the present engine has answered')
  .option('--undiagnosed', 'also cases that were never diagnosed')
  .action(rediagnoseCommand);

program.command('backup <directory>').description('copy the embedded database while it runs').action(backupCommand);
program.command('restore <directory>').description('put a backup in place of the embedded database').action(restoreCommand);
program
  .command('doctor')
  .description('check what the product needs, and say what to do')
  .option('--json', 'answer as JSON')
  .action(doctorCommand);

program
  .command('system')
  .description('the A/C system model')
  .command('draw')
  .description('pressure–enthalpy diagram and circuit of a typical system, sound and faulty, as SVG')
  .option('--layout <word>', LAYOUTS.join(', '), 'valve-integral-receiver')
  .option('--compressor <word>', COMPRESSOR_KINDS.join(', '), 'fixed-clutch')
  .option('--refrigerant <word>', REFRIGERANT_NAMES.join(', '), 'R-134a')
  .option('--fault <word>', 'a fault of the catalogue; the sound system alone when left out')
  .option('--severity <share>', '0 to 1', '0.6')
  .option('--ambient <celsius>', 'air at the condenser, °C', '32')
  .option('--elevation <metres>', 'above sea level', '0')
  .option('--speed <rpm>', 'compressor speed', '1500')
  .option('--out <folder>', 'where to write', '.')
  .action(drawCommand);

program
  .command('completion <shell>')
  .description('words for the shell to complete: source <(coolback completion bash)')
  .action((shell: string) => completionCommand(shell, program));

try {
  await program.parseAsync(process.argv);
} catch (error) {
  console.error(`coolback: ${(error as Error).message}`);
  process.exitCode = 1;
}
