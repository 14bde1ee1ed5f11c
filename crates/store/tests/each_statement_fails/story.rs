//! Everything that can be done to a shop, each thing once, in an order in which it can be done.

use capful_domain::facts::{Count, Method, OrderStatus, Pour, Receipt};
use capful_domain::{
    ExpectedPour, Facts, Id, Job, JobStatus, JobType, Money, NamedRatio, Offer, Product, Quantity,
    Ratio, SheetRow, Supplier,
};
use capful_store::{
    Answer, AuditAction, By, Change, EventKind, Finish, NewPerson, NewSession, NewToken, Role,
    Scope, SignOut, Store, StoreError, WriteContext,
};
use chrono::Duration;
use uuid::Uuid;

use crate::common::{
    TestShop, container, count, discard, id, job, march, mix, ml, noon, opening, order, pour,
    ratio, receipt, soap,
};

/// One thing that is done.
#[derive(Debug)]
pub enum Act {
    /// To the shop of the story.
    To(Change),
    /// To another one.
    ToOther(Uuid, Change),
    /// A job ends, as it stands when it does.
    Finish(&'static str, Vec<Pour>, Vec<ExpectedPour>),
    /// The last thing of a kind is undone that can be.
    Undo(AuditAction),
    /// A vehicle's words, wherever they stand.
    EraseVehicle(&'static str),
    AddToken,
    RevokeToken,
    AddPerson(&'static str),
    SetPassword,
    EditPerson,
    EndPerson,
    /// By what the browser holds.
    AddSession(&'static str),
    EndSession(&'static str),
    EndSessions,
    NoteWrongSignIn,
    SignOut,
    Unlock,
    ForgetSessions,
    ForgetAnswers,
}

impl Act {
    /// Whether it writes rows of many kinds, and reads as many.
    pub fn is_large(&self) -> bool {
        match self {
            Self::To(Change::Pour(pours)) => pours.len() > 1,
            Self::To(Change::Reverse { kind, .. }) => *kind == EventKind::Receipt,
            Self::Finish(_, _, expected) => !expected.is_empty(),
            Self::Undo(what) => *what == AuditAction::JobFinished,
            _ => false,
        }
    }

    /// Whether it is done shop by shop, each by itself.
    pub fn is_in_steps(&self) -> bool {
        matches!(self, Self::ForgetAnswers)
    }

    /// Whether it is a change of a shop, which is told of once it is done.
    pub fn is_change(&self) -> bool {
        matches!(self, Self::To(_) | Self::ToOther(..) | Self::Finish(..) | Self::Undo(_))
    }

    /// Does it, as what stands at this place of the story.
    pub async fn run(&self, shop: &TestShop, place: usize) -> Result<(), StoreError> {
        let asked = shop.asked().once(&format!("act-{place}"), "the same");
        let change = match self {
            Self::To(change) => change.clone(),
            Self::ToOther(other, change) => {
                let asked = WriteContext { shop: *other, ..asked };
                return does(&shop.store, &asked, change).await;
            }
            Self::Finish(own, pours, expected) => {
                let job = shop.store.get::<Job>(shop.shop, own).await?;
                let (pours, expected) = (pours.clone(), expected.clone());
                Change::FinishJob(Finish { job, at: noon(8), pours, expected })
            }
            Self::Undo(what) => {
                let deeds = shop.store.deeds(shop.shop, None, 10_000).await?;
                let own = deeds.iter().find(|deed| deed.what == *what && deed.can_be_undone);
                Change::Undo { deed: own.unwrap_or_else(|| panic!("nothing of {what:?}")).id }
            }
            Self::EraseVehicle(words) => {
                let erased = shop.store.erase_vehicle(shop.shop, words, noon(20), By::Nobody);
                return erased.await.map(drop);
            }
            _ => return self.run_for_people(shop).await,
        };
        does(&shop.store, &asked, &change).await
    }

    async fn run_for_people(&self, of: &TestShop) -> Result<(), StoreError> {
        let (store, shop, now, by) = (&of.store, of.shop, noon(20), By::Nobody);
        let asked = WriteContext::plainly(shop, now);
        let nothing = || Answer { status: 200, body: String::new() };
        let people = store.people(shop).await?;
        let who = |name: &str| people.iter().find(|person| person.name == name).unwrap().id;
        match self {
            Self::AddPerson(name) => {
                let role = if *name == "Mira" { Role::Owner } else { Role::Helper };
                let password_hash = "kept";
                let new = NewPerson { shop, sign_in: name, name, role, password_hash };
                store.add_person(&new, now, by).await.map(drop)
            }
            Self::SetPassword => {
                let set = store.set_password(who("Mira"), "other", None, &asked, nothing());
                set.await.map(drop)
            }
            Self::EditPerson => {
                let edited =
                    store.edit_person(who("Ola"), "Olaf", Role::Owner, &asked, |_| nothing());
                edited.await.map(drop)
            }
            Self::EndPerson => store.end_person(who("Olaf"), &asked, |_| nothing()).await.map(drop),
            Self::AddSession(text) => {
                let person = who("Mira");
                let expires_at = noon(20) + Duration::days(3);
                store.add_session(&NewSession { shop, person, text, expires_at }, now).await?;
                Ok(())
            }
            Self::EndSession(text) => {
                let session = store.session(text).await?.unwrap().0.id;
                store.end_session(shop, session, now).await
            }
            Self::EndSessions => store.end_sessions(shop, who("Mira"), now).await,
            Self::NoteWrongSignIn => {
                let mira = people.iter().find(|person| person.name == "Mira");
                store.note_wrong_sign_in(mira, "192.0.2.7", now).await
            }
            Self::SignOut => {
                let all = SignOut::Person(who("Mira"));
                store.sign_out(all, None, &asked, nothing()).await.map(drop)
            }
            Self::Unlock => store.unlock_person(shop, who("Mira"), now, by).await,
            Self::ForgetSessions => store.forget_sessions(noon(30)).await.map(drop),
            Self::ForgetAnswers => store.forget_answers(noon(22)).await.map(drop),
            _ => self.run_for_programs(of).await,
        }
    }

    async fn run_for_programs(&self, of: &TestShop) -> Result<(), StoreError> {
        let (store, shop, now, by) = (&of.store, of.shop, noon(20), By::Nobody);
        match self {
            Self::AddToken => {
                let text = Uuid::now_v7().to_string();
                let (scope, label) = (Scope::Shelf, "the phone in the bay");
                let new = NewToken { shop, text: &text, scope, label, expires_at: None };
                store.add_token(&new, now, by).await.map(drop)
            }
            Self::RevokeToken => {
                let tokens = store.tokens(shop).await?;
                let own = tokens.iter().find(|token| token.revoked_at.is_none()).unwrap();
                store.revoke_token(shop, own.id, now, by).await
            }
            other => unreachable!("{other:?}"),
        }
    }
}

async fn does(store: &Store, asked: &WriteContext, change: &Change) -> Result<(), StoreError> {
    store.change_plainly(asked, change).await.map(drop)
}

/// A shop in which the story can happen.
pub struct Story {
    /// A shop that is made by it.
    pub other: Uuid,
    settings: capful_domain::Shop,
    /// What another shop has written down.
    history: Facts,
}

impl Story {
    pub async fn prepare(shop: &TestShop) -> Self {
        shop.product("wax").await;
        let facts = shop.store.facts(shop.shop, None).await.unwrap();
        let settings = facts.shop.clone();
        let at = noon(5);
        let done = Job { status: JobStatus::Done, finished_at: Some(at), ..job("j1", 5) };
        let history = Facts {
            jobs: vec![done, job("j2", 9)],
            receipts: vec![receipt("r1", 1, "soap", 2)],
            pours: vec![pour("p1", noon(3), "soap", 100)],
            ..facts
        };
        Self { other: shop.store.new_uuid(noon(1)), settings, history }
    }

    /// All of it.
    pub fn acts(&self) -> Vec<Act> {
        let parts = [
            self.taken_over(),
            self.set_up(),
            self.calendar(),
            self.shelf(),
            self.orders(),
            self.taken_back(),
            people(),
        ];
        parts.into_iter().flatten().collect()
    }

    fn taken_over(&self) -> Vec<Act> {
        let quantity = Quantity::from_ledger_units(200_000);
        let (job, product, ratio) = (id("j1"), id("soap"), Ratio::NEAT);
        let expected = vec![ExpectedPour { at: noon(5), job, product, quantity, ratio }];
        let history = Box::new(self.history.clone());
        let first = Change::Import { facts: history, expected };
        let of_job = Pour { job: Some(id("j1")), ..pour("p2", noon(5), "soap", 300) };
        let mut more = self.history.clone();
        more.pours.push(pour("p3", noon(2), "soap", 50));
        let more = Change::Import { facts: Box::new(more), expected: vec![] };
        let set_up = Facts {
            products: vec![Product { id: id("glass"), ..soap() }],
            ..Facts::new(self.settings.clone())
        };
        let set_up = Change::Import { facts: Box::new(set_up), expected: vec![] };
        vec![
            Act::ToOther(self.other, first),
            // Instead of what was expected of the job.
            Act::ToOther(self.other, Change::Pour(vec![of_job])),
            Act::ToOther(self.other, more),
            Act::To(set_up),
            Act::Undo(AuditAction::Imported),
        ]
    }

    fn set_up(&self) -> Vec<Act> {
        let elsewhere =
            capful_domain::Shop { timezone: chrono_tz::Pacific::Auckland, ..self.settings.clone() };
        let large = Product { container_size: ml(500), ..soap() };
        let own = |own: &str| JobType {
            id: id(own),
            name: "Polish".to_owned(),
            price: Some(Money::from_minor(9000)),
            stall_cost: None,
            comes_back: None,
        };
        let changes = vec![
            Change::Receive(vec![receipt("r1", 1, "soap", 3), receipt("r2", 1, "wax", 2)]),
            Change::Shop(Box::new(elsewhere)),
            Change::Shop(Box::new(self.settings.clone())),
            Change::Product(Box::new(Product { id: id("clay"), ..soap() })),
            Change::Product(Box::new(large)),
            Change::Product(Box::new(soap())),
            Change::Ratio(NamedRatio {
                product: id("soap"),
                label: "heavy".to_owned(),
                ratio: ratio(3),
            }),
            Change::Supplier(supplier("gull")),
            Change::Offer(Offer {
                supplier: id("gull"),
                product: id("soap"),
                pack: 4,
                price: Money::from_minor(4000),
                code: None,
                minimum_packs: 1,
                preferred: false,
            }),
            Change::JobType(own("polish")),
            Change::SheetRow(sheet("polish", "clay", 30)),
            Change::Service(own("interior"), vec![sheet("interior", "soap", 40)]),
            Change::Service(own("interior"), vec![sheet("interior", "wax", 10)]),
        ];
        let mut acts: Vec<Act> = changes.into_iter().map(Act::To).collect();
        // The last first, as one is needed by another.
        let undone = [AuditAction::JobType, AuditAction::JobType, AuditAction::UsageSheet];
        acts.extend(undone.map(Act::Undo));
        let undone =
            [AuditAction::JobType, AuditAction::Offer, AuditAction::Supplier, AuditAction::Product];
        acts.extend(undone.map(Act::Undo));
        acts.push(Act::Undo(AuditAction::Shop));
        acts
    }

    fn calendar(&self) -> Vec<Act> {
        let at = noon(6);
        let (van, estate) = (Some("grey van"), Some("blue estate"));
        let of = |vehicle: Option<&str>| Job { vehicle: vehicle.map(String::from), ..job("j3", 6) };
        let moved = Job { planned_on: march(7), ..job("j1", 6) };
        let measured = vec![pour("f1", noon(8), "soap", 60), pour("f2", noon(7), "soap", 20)];
        let quantity = Quantity::from_ledger_units(20_000);
        let (own, product, ratio) = (id("j1"), id("wax"), Ratio::NEAT);
        let expected = vec![ExpectedPour { at, job: own, product, quantity, ratio }];
        vec![
            Act::To(Change::Book(job("j1", 6))),
            Act::To(Change::Book(job("j2", 6))),
            Act::To(Change::ChangeJob(moved)),
            Act::Undo(AuditAction::JobChanged),
            Act::To(Change::StartJob { job: id("j1"), at }),
            Act::Undo(AuditAction::JobStarted),
            Act::To(Change::CancelJob { job: id("j2"), at }),
            Act::Undo(AuditAction::JobCancelled),
            Act::Finish("j1", measured, expected),
            Act::Undo(AuditAction::JobFinished),
            Act::Finish("j1", vec![pour("f3", noon(8), "soap", 60)], vec![]),
            Act::To(Change::Book(of(van))),
            Act::To(Change::ChangeJob(of(estate))),
            Act::To(Change::ChangeJob(of(van))),
            Act::EraseVehicle("grey van"),
        ]
    }

    fn shelf(&self) -> Vec<Act> {
        let from = |name: &str| Some(container(name));
        let of_job = Pour {
            job: Some(id("j1")),
            method: Some(Method::Expected),
            ..pour("p2", noon(9), "wax", 40)
        };
        let sealed = Count { sealed: Some(1), ..count("c2", noon(11), "soap", 800) };
        let changes = vec![
            Change::Open(opening("o1", noon(9), "soap")),
            Change::Mix(mix("m1", noon(9), "soap", 500, 4)),
            Change::Discard(discard("d1", noon(9), "soap")),
            Change::Count(count("c1", noon(10), "soap", 1400)),
            Change::Pour(vec![pour("p1", noon(10), "soap", 70), of_job]),
            // Told late, of before the count.
            Change::Pour(vec![pour("p3", noon(9), "soap", 300)]),
            // More than there is.
            Change::Pour(vec![pour("p4", noon(11), "wax", 9000)]),
            Change::Count(sealed),
            Change::Receive(vec![receipt("r3", 12, "soap", 2)]),
            Change::Pour(vec![Pour { container: from("r3/2"), ..pour("p5", noon(12), "soap", 9) }]),
        ];
        let mut acts: Vec<Act> = changes.into_iter().map(Act::To).collect();
        let kinds = [
            (EventKind::Pour, "p5"),
            (EventKind::Receipt, "r3"),
            (EventKind::Count, "c2"),
            (EventKind::Discard, "d1"),
            (EventKind::Opening, "o1"),
            (EventKind::Mix, "m1"),
        ];
        let reverse = |(kind, own)| Act::To(Change::Reverse { kind, id: id(own) });
        acts.extend(kinds.map(reverse));
        acts
    }

    fn orders(&self) -> Vec<Act> {
        let against = |own: &str, product: &str| {
            let order = Some(id("b1"));
            Receipt { order, ..receipt(own, 14, product, 2) }
        };
        let last = vec![against("r5", "soap"), against("r6", "wax")];
        vec![
            Act::To(order("b1", 13, "soap", 6)),
            Act::To(Change::Receive(vec![against("r4", "soap")])),
            Act::To(Change::ReceiveLast { receipts: last, order: id("b1") }),
            Act::Undo(AuditAction::Received),
            Act::To(order("b2", 13, "soap", 2)),
            Act::To(Change::SetOrder { order: id("b2"), status: OrderStatus::Received }),
            Act::Undo(AuditAction::OrderChanged),
            Act::Undo(AuditAction::OrderPlaced),
        ]
    }

    /// Rows of every kind, each undone.
    fn taken_back(&self) -> Vec<Act> {
        let at = noon(15);
        let rows = vec![
            (Change::Pour(vec![pour("u1", at, "soap", 9)]), AuditAction::Poured),
            (Change::Open(opening("u1", at, "soap")), AuditAction::Opened),
            (Change::Mix(mix("u1", at, "soap", 300, 2)), AuditAction::Mixed),
            (Change::Discard(discard("u1", at, "soap")), AuditAction::Discarded),
            (Change::Count(count("u1", at, "soap", 700)), AuditAction::Counted),
            (Change::Book(job("u1", 16)), AuditAction::JobBooked),
        ];
        rows.into_iter().flat_map(|(done, undone)| [Act::To(done), Act::Undo(undone)]).collect()
    }
}

fn people() -> Vec<Act> {
    vec![
        Act::AddPerson("Mira"),
        Act::AddPerson("Ola"),
        Act::AddToken,
        Act::RevokeToken,
        Act::AddSession("at the desk"),
        Act::EndSession("at the desk"),
        Act::NoteWrongSignIn,
        Act::Unlock,
        Act::SetPassword,
        Act::AddSession("in the bay"),
        Act::EndSessions,
        Act::AddSession("on the road"),
        Act::SignOut,
        Act::EditPerson,
        Act::EndPerson,
        Act::ForgetSessions,
        Act::ForgetAnswers,
    ]
}

fn supplier(own: &str) -> Supplier {
    Supplier {
        id: id(own),
        name: "Grey Gull Supply".to_owned(),
        lead_days: 3.into(),
        lead_days_sd: None,
        order_weekdays: vec![],
        freight: Money::ZERO,
        free_freight_over: None,
        minimum_order: Money::ZERO,
    }
}

fn sheet(job_type: &str, product: &str, number: i64) -> SheetRow {
    let (job_type, product): (Id, Id) = (id(job_type), id(product));
    let amount = ml(number);
    SheetRow { job_type, product, amount, ratio: None, share_of_jobs: None, log_sd: None }
}
